"""Every kind of tampering is found: by the superuser with triggers off, to rows chosen by chance.

What is found without anything from elsewhere, what needs a checkpoint that left the machine, and what the unsealed
stretch can lose are each asserted. `manage.py test tests/attack --tries 1000` tries a thousand.
"""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.db import connection, transaction
from psycopg.conninfo import conninfo_to_dict

from checklists.record.verifying import verify_contents
from clinic.ledger.verify.checks import Check, checks
from clinic.ledger.verify.run import verify
from tests.attack import kinds, kinds_sealed  # noqa: F401 - they fill the list
from tests.attack.hands import did, rows
from tests.attack.listed import ATTACKS, Attack
from tests.attack.world import World, built

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow, pytest.mark.timeout(3000)]
EACH = 2  # tries of each kind, where no number is asked for


@pytest.fixture
def world(ledger: Path, tmp_path: Path) -> World:
    """The ledger to attack."""
    return built(tmp_path)


@pytest.fixture
def nothing_elsewhere(settings: Any, tmp_path: Path) -> str:
    """This machine's own file of checkpoints; for a try it is put away."""
    kept = str(settings.LEDGER_CHECKPOINT_FILE)
    settings.LEDGER_CHECKPOINT_FILE = str(tmp_path / "none")
    return kept


@contextmanager
def as_superuser() -> Iterator[None]:
    """The programme's connection becomes the attacker's; what was done is taken back at the end."""
    kept = {name: connection.settings_dict[name] for name in ("USER", "PASSWORD")}
    parts = conninfo_to_dict(os.environ["TEST_SUPERUSER_URL"])
    connection.close()
    connection.settings_dict |= {"USER": parts["user"], "PASSWORD": parts.get("password", "")}
    try:
        with transaction.atomic():
            did("SET LOCAL session_replication_role = replica")
            yield
            transaction.set_rollback(True)
    finally:
        connection.close()
        connection.settings_dict |= kept


@contextmanager
def taken_back() -> Iterator[None]:
    """One try."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def tried(attack: Attack, world: World, rng: random.Random, witnesses: list[str]) -> set[str]:
    """Attack, and say what a verification finds."""
    with taken_back():
        attack.do(world, rng)
        return set(verify(witnesses=witnesses).kinds())


def test_every_tampering_is_found(world: World, nothing_elsewhere: str, pytestconfig: pytest.Config) -> None:
    wanted = pytestconfig.getoption("--tries")
    each = -(-wanted // len(ATTACKS)) if wanted else EACH
    rng = random.Random(pytestconfig.getoption("--attack-seed"))
    missed, alone, findings = Counter[str](), Counter[str](), Counter[str]()
    with as_superuser():
        assert verify(witnesses=[str(world.witness), nothing_elsewhere]).holds
        for attack in ATTACKS.values():
            for _ in range(each):
                seed = rng.random()
                alone[attack.name] += bool(tried(attack, world, random.Random(seed), []))
                found = tried(attack, world, random.Random(seed), [str(world.witness)])
                missed[attack.name] += not found
                findings.update(found)
        assert verify(witnesses=[str(world.witness), nothing_elsewhere]).holds, "a try was not taken back"
    assert [name for name, times in missed.items() if times] == []
    assert {name: bool(times) for name, times in alone.items()} == {one.name: one.alone for one in ATTACKS.values()}
    assert [name for name, times in alone.items() if times not in (0, each)] == [], "found by chance only"
    print(f"{each * len(ATTACKS)} tamperings of {len(ATTACKS)} kinds, all found; findings: {dict(findings)}")


def test_this_machines_own_file_is_a_witness(world: World, settings: Any) -> None:
    """Who has the database and not the machine is betrayed by the file of checkpoints beside it."""
    with as_superuser():
        for attack in ATTACKS.values():
            if not attack.alone:
                assert tried(attack, world, random.Random(1), []), attack.name


def test_what_the_unsealed_stretch_can_lose(world: World, nothing_elsewhere: str) -> None:
    """A row that was not sealed yet, taken away again: the one thing that nobody finds. The guide says so."""
    with as_superuser():
        ((waiting,),) = rows("SELECT max(number) FROM checklists_entry")
        with taken_back():
            did(
                "DELETE FROM checklists_entrycontent WHERE entry_id = (SELECT id FROM checklists_entry"
                " WHERE number = %s)",
                [waiting],
            )
            assert did("DELETE FROM checklists_entry WHERE number = %s", [waiting]) == 1
            assert verify(witnesses=[str(world.witness), nothing_elsewhere]).holds


def _nothing(*args: object, **more: object) -> list[object]:
    return []


def _without(check: Check) -> Callable[[], list[Check]]:
    return lambda: [one for one in checks() if one is not check]


# What is shut → how, and the attack that it is there for.
RUN, TREE, ROWS = "clinic.ledger.verify.run", "clinic.ledger.verify.tree", "clinic.ledger.verify.rows"
EYES: dict[str, tuple[object, str]] = {
    f"{RUN}.checks": (_without(verify_contents), "change_a_content"),
    f"{RUN}.verify_rows": (_nothing, "change_a_kind"),
    f"{RUN}.marks": (_nothing, "roll_back"),
    f"{TREE}._compare": (_nothing, "change_a_row_and_its_leaf"),
    f"{TREE}._nodes": (_nothing, "change_a_node"),
    f"{ROWS}._gone": (_nothing, "delete_a_row"),
    f"{ROWS}._hidden": (_nothing, "hide_a_row_from_the_sealer"),
}


def test_with_one_eye_shut_what_is_there_is_not_seen(
    world: World, nothing_elsewhere: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each check is needed: without it, the attack that it is there for goes unnoticed or is named wrongly."""
    with as_superuser():
        for eye, (shut, name) in EYES.items():
            seeing = tried(ATTACKS[name], world, random.Random(3), [str(world.witness)])
            with monkeypatch.context() as patch:
                patch.setattr(eye, shut)
                assert tried(ATTACKS[name], world, random.Random(3), [str(world.witness)]) != seeing, eye
