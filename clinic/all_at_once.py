"""Making every table of an app in one step, for migrations that stand in for many."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class AllAtOnce(Operation):
    """The operations one after the other, between one state before and one after.

    On its own each operation has Django make the classes of all models anew that its model is bound up with, which here
    are nearly all: that takes most of the time of a `migrate`. Together they need the classes once, when all are there.
    So the operations may refer to each other's models in any order, and none may look at a state between them.
    """

    def __init__(self, operations: Sequence[Operation]) -> None:
        self.operations = operations

    def deconstruct(self) -> tuple[str, list[object], dict[str, object]]:
        """As it is written in a migration."""
        return type(self).__name__, [self.operations], {}

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Change the state; the classes that stood for it so far are forgotten first."""
        state.__dict__.pop("apps", None)
        for operation in self.operations:
            operation.state_forwards(app_label, state)

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Change the database."""
        for operation in self.operations:
            operation.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Take it all back, the last first."""
        for operation in reversed(self.operations):
            operation.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        """For `migrate --plan`."""
        return "; ".join(operation.describe() for operation in self.operations)
