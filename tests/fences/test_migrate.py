"""`manage.py migrate` ends with the fence as the code has it, whatever stood there before."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest
from django.core.management import call_command
from django.db import connection
from psycopg.conninfo import conninfo_to_dict

from clinic.access import fence, standing
from clinic.management.commands import migrate

pytestmark = pytest.mark.django_db(transaction=True)
POLICIES = "SELECT tablename, policyname, cmd, qual, with_check FROM pg_policies ORDER BY 1, 2"


@pytest.fixture
def as_owner() -> Iterator[psycopg.Connection]:
    """The programme's own connection comes as the owner, as `migrate` does; and another of the owner's to look with."""
    before = dict(connection.settings_dict)
    parts = conninfo_to_dict(os.environ["TEST_OWNER_URL"])
    connection.close()
    connection.settings_dict |= {"USER": parts["user"], "PASSWORD": parts["password"]}
    standing.process_stands_as(standing.NOBODY)
    with psycopg.connect(os.environ["TEST_OWNER_URL"], dbname=str(before["NAME"]), autocommit=True) as owner:
        yield owner
    fence.install(connection)
    connection.close()
    connection.settings_dict |= before
    standing.process_stands_as(standing.EVERYBODY)


def policies(owner: psycopg.Connection) -> list[tuple[Any, ...]]:
    return owner.execute(POLICIES).fetchall()


def test_once_more_changes_nothing(as_owner: psycopg.Connection) -> None:
    before = policies(as_owner)
    call_command("migrate", verbosity=0)
    assert policies(as_owner) == before
    assert fence.stands(connection)


def test_what_somebody_did_by_hand_is_undone(as_owner: psycopg.Connection) -> None:
    before = policies(as_owner)
    as_owner.execute("DROP POLICY fence_select ON caseload_person")
    as_owner.execute("CREATE POLICY by_hand ON caseload_person TO clinic_app USING (true)")
    as_owner.execute("ALTER TABLE checklists_entry DISABLE ROW LEVEL SECURITY")
    as_owner.execute("ALTER TABLE clinic_site ENABLE ROW LEVEL SECURITY")
    assert not fence.stands(connection)
    call_command("migrate", verbosity=0)
    assert policies(as_owner) == before
    assert fence.stands(connection)
    secured = {row[0] for row in as_owner.execute("SELECT relname FROM pg_class WHERE relrowsecurity").fetchall()}
    assert secured == set(fence.fences())


def test_a_look_at_what_is_to_do_changes_nothing(as_owner: psycopg.Connection) -> None:
    as_owner.execute("DROP POLICY fence_select ON caseload_person")
    before = policies(as_owner)
    call_command("migrate", "--plan", verbosity=0, stdout=io.StringIO())
    assert policies(as_owner) == before


def test_without_its_policies_a_table_is_shut_and_not_open(as_owner: psycopg.Connection) -> None:
    """While columns are changed, nobody sees anything rather than everything."""
    with connection.cursor() as cursor:
        fence.lift(cursor)
    assert policies(as_owner) == []
    with psycopg.connect(os.environ["DATABASE_URL"], dbname=str(connection.settings_dict["NAME"])) as programme:
        programme.execute("SELECT set_config('clinic.roles', ' everybody ', false)")
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            programme.execute(
                "INSERT INTO clinic_outboxrow (topic, payload, dedupe_key, created_at, due_at, attempts, last_error)"
                " VALUES ('a.b', '{}', 'k', now(), now(), 0, '')"
            )


def test_one_app_alone_leaves_the_tables_shut_and_says_so(
    as_owner: psycopg.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    before, said = policies(as_owner), io.StringIO()
    call_command("migrate", "clinic", verbosity=0, stderr=said)
    assert (policies(as_owner), said.getvalue()) == (before, "")
    monkeypatch.setattr(migrate, "_something_to_do", lambda _: True)
    call_command("migrate", "clinic", verbosity=0, stderr=said)
    assert policies(as_owner) == []
    assert "shut until" in said.getvalue()
