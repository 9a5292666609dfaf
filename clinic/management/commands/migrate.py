"""`manage.py migrate`: Django's own, and then the second fence as the code has it."""

from typing import Any

from django.core.management.commands import migrate
from django.db import connections
from django.db.migrations.executor import MigrationExecutor

from clinic.access import fence


class Command(migrate.Command):
    """Changes the tables with the policies taken away (they would hold on to columns), then puts all of them up."""

    def handle(self, *args: Any, **options: Any) -> None:
        connection = connections[options["database"]]
        looking = options["plan"] or options["check_unapplied"]
        lifted = not looking and _something_to_do(connection)
        if lifted:
            with connection.cursor() as cursor:
                fence.lift(cursor)
        super().handle(*args, **options)
        if not looking and not options["app_label"]:
            fence.install(connection)
        elif lifted:
            self.stderr.write("The tables about people stay shut until `migrate` has run for all apps.")


def _something_to_do(connection: Any) -> bool:
    executor = MigrationExecutor(connection)
    return bool(executor.migration_plan(executor.loader.graph.leaf_nodes()))
