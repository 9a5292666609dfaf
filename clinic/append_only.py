"""Making a table append-only by the database's own means, from a migration.

`rows_stay` is the milder form: rows may change (their trail says how), and none may go.

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

REMOVAL_FUNCTION = RunSQL(
    """
    CREATE FUNCTION refuse_removal() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
        RAISE EXCEPTION 'no row of table % is ever removed', TG_TABLE_NAME USING ERRCODE = 'insufficient_privilege';
    END $$;
    """,
    "DROP FUNCTION refuse_removal();",
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


def rows_stay(table: str) -> Operation:
    """The operation that lets the rows of a table change and none of them go."""
    return RunSQL(
        f"""
        CREATE TRIGGER {table}_rows_stay BEFORE DELETE ON {table}
            FOR EACH ROW EXECUTE FUNCTION refuse_removal();
        CREATE TRIGGER {table}_stays BEFORE TRUNCATE ON {table}
            FOR EACH STATEMENT EXECUTE FUNCTION refuse_removal();
        REVOKE DELETE ON {table} FROM {APP_ROLE};
        """,
        f"""
        DROP TRIGGER {table}_rows_stay ON {table};
        DROP TRIGGER {table}_stays ON {table};
        GRANT DELETE ON {table} TO {APP_ROLE};
        """,
    )
