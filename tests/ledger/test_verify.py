"""Verifying: what was written in the ordinary way holds, and what it says about what does not."""

from __future__ import annotations

from pathlib import Path

import pytest

from clinic import clock
from clinic.ledger.seal import seal
from clinic.ledger.verify.findings import LOOKS_LIKE, Kind
from clinic.ledger.verify.run import verify, verify_episode
from tests.ledger.hands import behind
from tests.makers import a_therapist, an_attempt, an_episode, recorded

pytestmark = pytest.mark.django_db(transaction=True)


def test_what_was_written_and_sealed_holds(ledger: Path) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_attempt(), an_attempt())
    seal(clock.now())
    recorded(therapist, episode, an_attempt())
    report = verify()
    assert report.holds, report.sentences()
    assert report.unsealed == 2  # the fact and its row in the trail
    assert report.rows == report.size + 2
    assert "hold" in report.still_holds()
    assert verify_episode(episode.pk).holds


def test_every_kind_says_what_it_looks_like() -> None:
    assert set(LOOKS_LIKE) == set(Kind)


def test_a_changed_row_is_named_and_what_is_before_it_still_holds(ledger: Path) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    first = seal(clock.now()).size
    recorded(therapist, episode, an_attempt())
    seal(clock.now())
    with behind() as other:
        newest = other.execute("SELECT max(number) FROM checklists_entry").fetchone()
        other.execute("UPDATE checklists_entry SET kind = 'fall' WHERE number = %s", newest)
    report = verify()
    assert report.kinds() == {Kind.ROW_CHANGED}
    assert report.first is not None
    assert report.first >= first
    assert f"The first {first:,} rows hold" in report.still_holds()
    assert not verify_episode(episode.pk).holds
