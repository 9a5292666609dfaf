"""The page of what was judged differently: both judgements beside each other, and the case as a file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from clinic.staff.models import Staff
from tests.api.conftest import calling
from tests.judging import BREAKS, a_case, honest
from tests.makers import a_lead, a_therapist, ago, an_attempt, an_episode

__all__ = ["calling"]
pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def test_a_lead_reads_both_and_takes_the_case(enter: Enter) -> None:
    therapist = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=therapist)
    browser = enter(a_lead())
    assert "Nothing was judged differently" in browser.get("/judged/").content.decode()
    case = a_case(therapist, episode)
    page = browser.get("/judged/").content.decode()
    said = page[page.index("The tablet said") : page.index("Take the case out")]
    tablet, server = said.split("The server says")
    assert "nothing broken" in tablet
    assert all(rule in server for rule, _, _ in case.found)
    assert "Runa Achterling" in page
    assert episode.reference in page
    taken = browser.post(f"/judged/{case.pk}/take/")
    assert (taken.status_code, taken.headers["Content-Type"]) == (200, "application/zip")
    assert taken.content.startswith(b"PK")
    assert "/judged/" in browser.get("/watch/").content.decode()


def test_a_therapist_is_led_away(enter: Enter) -> None:
    therapist = a_therapist()
    case = a_case(therapist, an_episode(assigned_to=therapist))
    browser = enter(therapist)
    assert browser.get("/judged/").status_code == 403
    assert browser.post(f"/judged/{case.pk}/take/").status_code == 403


@pytest.mark.parametrize("bad", [False, True])
def test_the_api_takes_what_a_tablet_judged_along(calling: Callable[[Staff], Any], bad: bool) -> None:
    """And says in a sentence what it could not read of it."""
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fact = an_attempt(**BREAKS, at=ago(minutes=1))
    judged = {fact["id"]: {}} if bad else honest(therapist, episode, fact)
    answer = calling(therapist).post(
        f"/api/v1/episodes/{episode.pk}/entries/", {"entries": [fact], "judged": judged}, format="json"
    )
    said = answer.json()
    assert said["verdicts"][0]["outcome"] == "accepted"
    assert said["raised"]
    assert (said["judged"] or "").startswith("judged: 1 of 1 left out (after: ") == bad
    assert bool(said["judged"]) == bad
