"""Making a table append-only by the database's own means, from a migration.

Two fences. The programme's role is granted SELECT and INSERT and nothing else, so its code cannot change a row whatever
it does. A trigger stops UPDATE, DELETE and TRUNCATE by everybody else short of somebody who drops it on purpose.
"""

from django.db.migrations.operations.base import Operation
from django.db.migrations.operations.special import RunSQL

APP_ROLE = "clinic_app"

GUARD_FUNCTION = RunSQL(
    """
    CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION 'table % is append-only: a correction is a new row', TG_TABLE_NAME
            USING ERRCODE = 'insufficient_privilege';
    END $$;
    """,
    "DROP FUNCTION refuse_change();",
)


def append_only(table: str) -> Operation:
    """The operation that shuts a table to change. GUARD_FUNCTION must have run before."""
    return RunSQL(
        f"""
        CREATE TRIGGER {table}_rows_stay BEFORE UPDATE OR DELETE ON {table}
            FOR EACH ROW EXECUTE FUNCTION refuse_change();
        CREATE TRIGGER {table}_stays BEFORE TRUNCATE ON {table}
            FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();
        REVOKE ALL ON {table} FROM {APP_ROLE};
        GRANT SELECT, INSERT ON {table} TO {APP_ROLE};
        """,
        f"""
        DROP TRIGGER {table}_rows_stay ON {table};
        DROP TRIGGER {table}_stays ON {table};
        """,
    )
