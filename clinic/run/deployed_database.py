"""What the database says about the role that the programme comes as, and about itself."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

from django.db.backends.base.base import BaseDatabaseWrapper

from clinic.access import fence
from clinic.run.finding import Finding

APPEND_ONLY = ("checklists_entry", "checklists_entrycontent", "clinic_trailrow")
MOST_APART = timedelta(seconds=30)

_ROLE = """
SELECT current_user, rolsuper, rolbypassrls, rolcreaterole OR rolcreatedb OR rolreplication,
       EXISTS (SELECT FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
               WHERE n.nspname = 'public' AND c.relkind IN ('r', 'p')
               AND pg_has_role(current_user, c.relowner, 'MEMBER')),
       has_schema_privilege('public', 'CREATE')
FROM pg_roles WHERE rolname = current_user
"""
_MAY_CHANGE = """
SELECT relname FROM pg_class WHERE relname = ANY(%s) AND relkind IN ('r', 'p')
AND has_table_privilege(oid, 'UPDATE, DELETE, TRUNCATE') ORDER BY relname
"""
_ITSELF = "SELECT clock_timestamp(), current_setting('fsync'), current_setting('full_page_writes')"


def findings(connection: BaseDatabaseWrapper) -> Iterator[Finding]:
    """Everything wrong with the role and the database. OperationalError where it does not answer."""
    with connection.cursor() as cursor:
        cursor.execute(_ROLE)
        role = cursor.fetchone()
        cursor.execute(_MAY_CHANGE, [list(APPEND_ONLY)])
        changeable = [name for (name,) in cursor.fetchall()]
        cursor.execute(_ITSELF)
        itself = cursor.fetchone()
    yield from _role(*role)
    if changeable:
        yield Finding(
            "may_change",
            f"The database role {role[0]!r} may change or remove rows of {', '.join(changeable)}: run the migrations "
            "as clinic_owner, which take that right away.",
        )
    yield from _database(*itself)
    if not fence.stands(connection):
        yield Finding(
            "fence",
            "The database does not hold people's rows back as this version of the programme has it: run "
            "`manage.py migrate` as clinic_owner.",
        )


def _role(name: str, superuser: bool, bypasses: bool, makes: bool, owns: bool, creates: bool) -> Iterator[Finding]:
    to_do = "sign in as clinic_app (clinic/run/roles.sql) in DATABASE_URL."
    if superuser:
        yield Finding("superuser", f"The database role {name!r} is a superuser, whom nothing stops: {to_do}")
    if bypasses and not superuser:
        yield Finding("bypasses", f"The database role {name!r} passes by row-level security: {to_do}")
    if owns and not superuser:
        yield Finding("owner", f"The database role {name!r} owns the tables and could undo their protection: {to_do}")
    if makes and not superuser:
        yield Finding("makes_roles", f"The database role {name!r} may make roles or databases, or replicate: {to_do}")
    if creates and not (superuser or owns):
        yield Finding("creates", f"The database role {name!r} may create tables in the schema public: {to_do}")


def _database(at: datetime, fsync: str, full_pages: str) -> Iterator[Finding]:
    apart = abs(at - datetime.now(tz=UTC))
    if apart > MOST_APART:
        yield Finding(
            "clock",
            f"The database's clock and this machine's are {apart.total_seconds():.0f} seconds apart: set both by NTP.",
        )
    if "off" in (fsync, full_pages):
        yield Finding(
            "not_durable", "The database does not wait for its disk (fsync or full_page_writes is off): turn it on."
        )
