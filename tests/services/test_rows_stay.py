"""What must never be lost or rewritten: refused to the programme by its rights, to everybody else by a trigger."""

from __future__ import annotations

import os
from typing import Any, LiteralString

import psycopg
import pytest
from django.db import ProgrammingError, connection, transaction
from psycopg import sql

from tests.makers import a_fall, a_therapist, ago, an_attempt, an_episode, recorded

pytestmark = pytest.mark.django_db
FACTS = (
    "checklists_entry",
    "checklists_entrycontent",
    "checklists_signedevidence",
    "checklists_signature",
    "checklists_protocolversion",
)
LEDGER = ("clinic_ledgerleaf", "clinic_ledgernode", "clinic_checkpoint")
DECIDED = ("checklists_retention", "checklists_erasure", "checklists_erasuredecision", "checklists_erased")
WRITTEN_ONCE = (
    *FACTS,
    *DECIDED,
    "checklists_difference",
    "checklists_adoption",
    "checklists_alertstep",
    "clinic_trailrow",
    *LEDGER,
)
NEVER_GO = (
    *("checklists_alert", "checklists_heldentry", "checklists_refusedentry", "checklists_head"),
    *("checklists_legalhold", "checklists_archive", "checklists_sealedmark"),
    *("caseload_person", "caseload_weight", "caseload_referral", "caseload_episode", "caseload_pause"),
    *("caseload_assignment", "caseload_cover", "caseload_visit", "caseload_plannedreview", "caseload_reminder"),
    *("caseload_adjustmentrequest", "caseload_emergencyaccess", "caseload_prosthesis", "caseload_component"),
    *(
        "clinic_staff",
        "clinic_registration",
        "clinic_authorisation",
        "clinic_site",
        "clinic_tablet",
        "clinic_sitemove",
        "clinic_accountreview",
        "clinic_alarm",
    ),
    *("clinic_factor", "clinic_recoverycode"),
)
# What may go: what the worker plans, tells and guesses were counted by; weights of the load; a role held on no day; a
# PIN, and sessions that ended long ago (the trail keeps that they were).
MAY_GO = {
    "checklists_archivefile",  # goes when it is taken, or after a day
    "checklists_tally",  # how often judgements were compared: a count a day
    "clinic_ledgergap",
    *("checklists_deadline", "checklists_notice", "caseload_loadweight", "clinic_roleterm", "clinic_outboxrow"),
    *("clinic_signinattempt", "clinic_pin", "clinic_staffsession", "clinic_beat"),
}


def refused(statement: sql.Composable) -> bool:
    """Whether the programme's role is refused a statement for want of the right."""
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    except ProgrammingError as fault:
        return isinstance(fault.__cause__, psycopg.errors.InsufficientPrivilege)
    return False


def of(statement: LiteralString, table: str) -> sql.Composed:
    """A statement about a table."""
    return sql.SQL(statement).format(sql.Identifier(table))


@pytest.mark.parametrize("table", [*WRITTEN_ONCE, *NEVER_GO])
@pytest.mark.parametrize(
    "statement",
    [
        "DELETE FROM {}",
        "TRUNCATE {} CASCADE",
        "ALTER TABLE {} DISABLE TRIGGER ALL",
        "ALTER TABLE {} ADD COLUMN more text",
        "DROP TABLE {} CASCADE",
        "GRANT ALL ON {} TO clinic_app",
        "CREATE RULE gone AS ON INSERT TO {} DO INSTEAD NOTHING",
    ],
)
def test_the_programme_takes_no_row_away(table: Any, statement: Any) -> None:
    if statement.startswith("GRANT"):  # granting what one has not is a warning and does nothing
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(of(statement, table))
        assert refused(of("DELETE FROM {}", table))
    else:
        assert refused(of(statement, table))


@pytest.mark.parametrize("table", WRITTEN_ONCE)
def test_the_programme_rewrites_no_fact(table: Any) -> None:
    with connection.cursor() as cursor:
        asked = "SELECT column_name FROM information_schema.columns WHERE table_name = %s AND is_generated = 'NEVER'"
        cursor.execute(asked, [table])
        columns = [name for (name,) in cursor.fetchall()]
    assert columns
    for column in columns:
        assert refused(sql.SQL("UPDATE {0} SET {1} = {1}").format(sql.Identifier(table), sql.Identifier(column)))
    assert refused(of("SELECT 1 FROM {} FOR UPDATE", table))


def test_the_programme_does_not_step_round_the_triggers() -> None:
    for statement in ("SET session_replication_role = replica", "SET ROLE clinic_owner", "DROP FUNCTION refuse_change"):
        assert refused(sql.SQL(statement)), statement


def test_every_table_of_ours_is_either_kept_or_named_here() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        ours = {name for (name,) in cursor.fetchall() if name.split("_")[0] in ("clinic", "caseload", "checklists")}
    assert ours == {*WRITTEN_ONCE, *NEVER_GO} | MAY_GO


@pytest.mark.django_db(transaction=True)
def test_not_even_the_owner_takes_a_row_away_by_accident() -> None:
    therapist = a_therapist()
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt(at=ago(minutes=1)), a_fall(injury="very"))
    tried = 0
    with psycopg.connect(os.environ["TEST_OWNER_URL"], dbname=str(connection.settings_dict["NAME"])) as owner:
        for table in (*WRITTEN_ONCE, *NEVER_GO):
            rows = owner.execute(of("SELECT count(*) FROM {}", table)).fetchone()
            for statement in ("DELETE FROM {}",) if rows and rows[0] else ():
                with pytest.raises(psycopg.errors.InsufficientPrivilege), owner.transaction():
                    owner.execute(of(statement, table))
                tried += 1
            with pytest.raises(psycopg.errors.InsufficientPrivilege), owner.transaction():
                owner.execute(of("TRUNCATE {} CASCADE", table))
    assert tried >= 10
