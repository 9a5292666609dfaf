"""The second fence: row-level security of PostgreSQL, made from the same table as the first.

Every model with a `FENCE` (clinic/access/fenced.py) gets one policy each for reading, adding, changing and removing,
for the programme's role; every other table is named in OPEN with the reason. `install` runs after each `migrate`, by
the owner of the tables, who is not held back by policies: nothing can drift from POLICY, and a backup misses nothing.

What it guards against is the filter that a programmer forgot. Whoever can run any SQL as the programme's role can also
say that they are somebody else.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import Model

from clinic.access import functions
from clinic.access.fenced import RECORDING, Door, Fenced, Holders, listed, owners
from clinic.access.scope import Scope
from clinic.append_only import APP_ROLE

_STAFF = "of the staff, not of anybody who is taught here; what may be asked of it is cut in code"
_DOOR = "asked before anybody is anybody"
_LEDGER = "digests, which say nothing about anybody"
# Tables without a person or an episode. A new table is either fenced or stands here: tests/fences/test_fence.py.
OPEN: Mapping[str, str] = {
    **dict.fromkeys(("clinic_site", "clinic_staff", "clinic_roleterm"), _STAFF),
    **dict.fromkeys(
        ("clinic_registration", "clinic_authorisation", "clinic_alarm", "clinic_sitemove", "clinic_accountreview"),
        _STAFF,
    ),
    **dict.fromkeys(("clinic_signinattempt", "clinic_factor", "clinic_recoverycode", "clinic_pin"), _DOOR),
    **dict.fromkeys(("clinic_tablet", "clinic_staffsession", "django_session", "knox_authtoken"), _DOOR),
    **dict.fromkeys(("clinic_ledgerleaf", "clinic_ledgernode", "clinic_ledgergap", "clinic_checkpoint"), _LEDGER),
    "clinic_beat": "when the programme's own work was last done",
    "checklists_protocolversion": "the clinic's protocols",
    "checklists_adoption": "who made a protocol the clinic's own",
    "checklists_retention": "how long each site keeps records",
    "checklists_tally": "how often judgements were compared",
    "caseload_loadweight": "the clinic's weights of the load",
    **dict.fromkeys(
        ("auth_permission", "auth_group", "auth_group_permissions", "django_content_type"), "empty or Django's"
    ),
    "django_migrations": "Django's",
}


@dataclass(frozen=True, slots=True)
class Policy:
    """One policy of a table."""

    table: str
    command: str
    using: str = ""
    check: str = ""

    @property
    def name(self) -> str:
        """As the database knows it."""
        return f"fence_{self.command.lower()}"

    def __str__(self) -> str:
        using = f" USING ({self.using})" if self.using else ""
        check = f" WITH CHECK ({self.check})" if self.check else ""
        return f"CREATE POLICY {self.name} ON {self.table} FOR {self.command} TO {APP_ROLE}{using}{check}"


def fences() -> dict[str, Fenced]:
    """Every fenced table with its fence."""
    found = ((model._meta.db_table, getattr(model, "FENCE", None)) for model in models())
    return {table: fence for table, fence in found if isinstance(fence, Fenced)}


def models() -> Iterator[type[Model]]:
    """Every model that has a table."""
    return (one for one in apps.get_models(include_auto_created=True) if one._meta.managed and not one._meta.proxy)


def policies() -> list[Policy]:
    """What the database must hold, from POLICY and what the models say of themselves."""
    made = []
    for table, fence in sorted(fences().items()):
        read = condition(table, fence.reads, reading=True)
        add = condition(table, fence.inserts, reading=False)
        change = condition(table, fence.updates, reading=False)
        made += [
            Policy(table, "SELECT", using=read),
            Policy(table, "INSERT", check=add),
            Policy(table, "UPDATE", using=change, check=change),
            Policy(table, "DELETE", using=change),
        ]
    return made


def condition(table: str, doors: tuple[Door, ...], *, reading: bool) -> str:
    """When a row is in reach: for whoever sees all, or by one of the ways."""
    said: list[str] = []
    for way, actions in doors or ((None, frozenset()),):
        holders = Holders.of(actions, reading=reading)
        said += [holders.whole(), *(way.conditions(holders, table) if way else [])]
    return "true" if "true" in said else " OR ".join(dict.fromkeys(said))


def statements() -> list[str]:
    """Functions first, then the policies that call them."""
    writers = Holders.of(RECORDING, reading=False).by_scope
    hand = functions.HAND.format(everywhere=listed(writers[Scope.ALL]), at_their_site=listed(writers[Scope.SITE]))
    stand = functions.STAND.replace("{owners}", listed(owners()))
    made = [stand, hand, functions.TAKEN_IDS, functions.ALERTS, functions.SITES]
    for name, taken in functions.SIGNATURES.items():
        made += [
            f"REVOKE ALL ON FUNCTION {name}({taken}) FROM PUBLIC",
            f"GRANT EXECUTE ON FUNCTION {name}({taken}) TO {APP_ROLE}",
        ]
    made += [f"ALTER TABLE {table} ENABLE ROW LEVEL SECURITY" for table in sorted(fences())]
    return made + [str(policy) for policy in policies()]


def digest() -> str:
    """What stands for the whole fence; it is kept beside it in the database."""
    return hashlib.sha256("\n".join(statements()).encode()).hexdigest()


def install(connection: BaseDatabaseWrapper) -> None:
    """Put the fence up as the code has it, whatever stood there; as the owner of the tables. As often as one likes."""
    with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
        lift(cursor)
        for table in _rows(cursor, "SELECT relname FROM pg_class WHERE relrowsecurity"):
            if table not in fences():
                cursor.execute(f"ALTER TABLE {connection.ops.quote_name(table)} DISABLE ROW LEVEL SECURITY")
        for statement in statements():
            cursor.execute(statement)
        cursor.execute(f"COMMENT ON FUNCTION {functions.TOLD} IS 'fence {digest()}'")


def lift(cursor: Any) -> None:
    """Take the policies away, so that columns can be changed. The tables stay shut: without one nothing is seen."""
    drop = "SELECT format('DROP POLICY %I ON %I.%I', policyname, schemaname, tablename) FROM pg_policies"
    for statement in _rows(cursor, f"{drop} WHERE schemaname = 'public'"):
        cursor.execute(statement)


def stands(connection: BaseDatabaseWrapper) -> bool:
    """Whether the database's fence is the one of this code and up: if not, `migrate` has not been run since, or
    somebody took a part of it away."""
    with connection.cursor() as cursor:
        said = _rows(cursor, f"SELECT obj_description(to_regproc('{functions.TOLD}'), 'pg_proc')")
        shut = _rows(cursor, "SELECT relname FROM pg_class WHERE relrowsecurity")
        held = _rows(cursor, "SELECT tablename || ' ' || policyname FROM pg_policies")
    wanted = [f"{policy.table} {policy.name}" for policy in policies()]
    return said == [f"fence {digest()}"] and set(shut) == set(fences()) and sorted(held) == sorted(wanted)


def _rows(cursor: Any, question: str) -> list[str]:
    cursor.execute(question)
    return [row[0] for row in cursor.fetchall()]
