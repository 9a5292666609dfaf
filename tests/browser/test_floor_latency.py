"""Each tap of the Floor is answered at once, on a processor four times slower, with the record of a year."""

from __future__ import annotations

from datetime import timedelta
from statistics import median
from typing import Any

from playwright.sync_api import expect

from caseload.models import Episode
from checklists.demo.course import PROSTHETIST, careful_course
from checklists.demo.session import Walker
from checklists.domain import load_protocol
from checklists.record.protocols import CURRENT_KEY, FOLDER
from checklists.speed import taps
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.makers import a_prosthetist, a_therapist, ago, an_episode, imported, now

A_YEAR = 1_000  # facts
# Tests share the machine with others: one tap that waited long says nothing of the page, and a tap on a page of one key
# waits too. So it is the middle of all taps by the bare tap. Whether each kind keeps the promise in milliseconds,
# `manage.py bench` tells on a quiet machine.
OF_A_BARE_TAP = 15.0


def with_a_year(therapist: Staff) -> Episode:
    """Somebody whose record has a year of careful sessions."""
    episode = an_episode(assigned_to=therapist, opened=ago(days=420))
    walker = Walker(episode.reference, "left", skill=0.95)
    protocol = load_protocol((FOLDER / f"{CURRENT_KEY}.json").read_bytes())
    begins = (now() - timedelta(days=400)).date()
    course = careful_course(protocol, walker, "taps", begins=begins, facts=A_YEAR)[1:]
    benches = a_prosthetist()
    people = {PROSTHETIST: benches.reference}
    past = [_mine(fact, people, therapist) for fact in course if fact["at"] < ago(days=1).isoformat()]
    taken = imported(therapist, episode, *past)
    accepted = sum(verdict.outcome == "accepted" for verdict in taken.verdicts)
    assert accepted > 0.9 * A_YEAR, (accepted, taken.verdicts[:3])
    return episode


def _mine(fact: dict[str, Any], people: dict[str, str], therapist: Staff) -> dict[str, Any]:
    return {**fact, "by": people.get(fact["by"], therapist.reference)}


def test_each_tap_answers_at_once(enter: Enter) -> None:
    therapist = a_therapist()
    episode = with_a_year(therapist)
    page = enter(therapist, f"/floor/{episode.pk}/")
    expect(page.locator("[data-floor-ready]")).to_be_attached()
    found = taps.measure(page, rounds=1)
    print(f"\ntap to picture, processor {taps.SLOWER} times slower: {found}")
    assert found.middle <= OF_A_BARE_TAP * median(found.bare)
