"""What a database holds, told so that two can be compared: rows a table, and everything that protects them.

Definitions are told by their digest: the manifest says whether they are alike and not what they are.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from typing import Any

import psycopg
from psycopg import sql

from clinic.run.progress import Progress

Facts = dict[str, Any]
_TABLES = "SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"
_OWN = "NOT EXISTS (SELECT FROM pg_depend d WHERE d.objid = {0}.oid AND d.deptype = 'e')"

# kind → a name and a definition for each; what an extension brings is the extension's
DEFINITIONS: Mapping[str, str] = {
    "columns": """SELECT table_name, string_agg(concat_ws(' ', column_name, data_type, is_nullable, column_default), ','
            ORDER BY ordinal_position) FROM information_schema.columns WHERE table_schema = 'public' GROUP BY 1""",
    "constraints": """SELECT conrelid::regclass || '.' || conname, pg_get_constraintdef(oid) FROM pg_constraint
        WHERE connamespace = 'public'::regnamespace AND conrelid <> 0""",
    "indexes": "SELECT tablename || '.' || indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'",
    "triggers": """SELECT tgrelid::regclass || '.' || tgname, tgenabled::text || pg_get_triggerdef(oid) FROM pg_trigger
        WHERE NOT tgisinternal""",
    "functions": f"""SELECT p.proname || '(' || pg_get_function_identity_arguments(p.oid) || ')',
            pg_get_functiondef(p.oid) FROM pg_proc p
        WHERE p.pronamespace = 'public'::regnamespace AND p.prokind = 'f' AND {_OWN.format("p")}""",  # noqa: S608 - our own words
    "policies": """SELECT tablename || '.' || policyname,
            concat_ws(' ', permissive, roles::text, cmd, qual, with_check) FROM pg_policies""",
    "row security": """SELECT relname, relrowsecurity || ' ' || relforcerowsecurity FROM pg_class
        WHERE relnamespace = 'public'::regnamespace AND relkind = 'r'""",
    "rights": """SELECT c.relname, string_agg(acl.grantee::regrole || '=' || acl.privilege_type, ',' ORDER BY
            acl.grantee::regrole::text, acl.privilege_type) FROM pg_class c, aclexplode(c.relacl) acl
        WHERE c.relnamespace = 'public'::regnamespace AND c.relkind IN ('r', 'S') AND acl.grantee <> 0 GROUP BY 1""",
    "roles": """SELECT rolname, concat_ws(' ', rolsuper, rolbypassrls, rolcreaterole, rolreplication, rolcanlogin)
        FROM pg_roles WHERE rolname IN ('clinic_owner', 'clinic_app')""",
    "migrations": "SELECT app || '.' || name, '' FROM django_migrations",
}
_WRITTEN_OTHERWISE = re.compile(r"::(character varying|text)(\[\])?|[()\s]")
WORDS = {"columns": "tables' columns", "row security": "tables' row security", "rights": "rights"}


def facts(connection: psycopg.Connection, title: str) -> Facts:
    """Everything, in the transaction in hand: one state of the database, whoever writes meanwhile."""
    tables = [str(name) for (name,) in connection.execute(_TABLES)]
    progress = Progress(title, len(tables))
    rows = {}
    for table in tables:
        counted = connection.execute(sql.SQL("SELECT count(*) FROM {}").format(sql.Identifier(table))).fetchone()
        rows[table] = int(counted[0]) if counted else 0
        progress.step(table)
    progress.end(f"{sum(rows.values()):,} rows in {len(tables)} tables")
    found: Facts = {"rows": rows}
    for kind, question in DEFINITIONS.items():
        found[kind] = {str(name): _digest(said) for name, said in connection.execute(question.encode())}
    return found


def _digest(text: str) -> str:
    """Without parentheses and casts of texts: the server writes lists of choices in another way once restored."""
    return hashlib.sha256(_WRITTEN_OTHERWISE.sub("", str(text)).encode()).hexdigest()[:16]


def differences(was: Facts, now: Facts) -> list[str]:
    """What is missing, more, or other than it was, one sentence each. Nothing: the two are alike."""
    said = []
    for table, many in was["rows"].items():
        here = now["rows"].get(table)
        if here is None:
            said.append(f"The table {table} is missing.")
        elif here != many:
            said.append(f"{table} has {here:,} rows; it had {many:,}.")
    said += [f"The table {table} was not there before." for table in now["rows"].keys() - was["rows"].keys()]
    for kind in DEFINITIONS:
        one, other = was.get(kind, {}), now.get(kind, {})
        gone = sorted(one.keys() - other.keys())
        came = sorted(other.keys() - one.keys())
        changed = sorted(name for name in one.keys() & other.keys() if one[name] != other[name])
        for names, word in ((gone, "missing"), (came, "new"), (changed, "not as before")):
            if names:
                said.append(f"{WORDS.get(kind, kind).capitalize()} {word}: {_listed(names)}.")
    return said


def _listed(names: list[str]) -> str:
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
