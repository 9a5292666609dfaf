"""The alert of a sign-off: once that counts no longer, it says so with the day, and asks for the answer alone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import Episode
from checklists.alerts.models import Alert
from checklists.alerts.selectors import acts
from clinic import clock
from clinic.models import Staff
from clinic.web.tags import moment
from tests.makers import a_fall, a_lead, a_therapist, ago, an_entry, an_episode, imported, stamp
from tests.web.pages import page
from tests.web.test_alerts_page import text_of

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
ASKS = "Look at the sign-off again with the clinic lead, and withdraw it unless the evidence holds."
AUTHORITY = "Look at the sign-off with whoever gave it."
LEFT = "What is left is the answer: say what was done."


@pytest.fixture
def aurel(runa: Staff) -> Episode:
    return an_episode(assigned_to=runa)


def signed(by: Staff, episode: Episode, skill: str = "don_check", days: int = 20) -> str:
    """A sign-off that no evidence carries, and its alert. Its id."""
    sign_off = an_entry("sign_off", by=by, at=ago(days=days), skill=skill)
    imported(by, episode, sign_off)
    assert Alert.objects.filter(rule="unsupported_sign_off", entry=sign_off["id"], open=True).exists()
    return str(sign_off["id"])


def withdrawn(by: Staff, episode: Episode, skill: str = "don_check", *, days: int = 2) -> dict[str, Any]:
    taken_back = an_entry("sign_off_withdrawn", by=by, at=ago(days=days), skill=skill, reason="not carried")
    imported(by, episode, taken_back)
    return taken_back


def said_of(browser: Client, episode: Episode, sign_off: str) -> str:
    """What the page of its answer says."""
    return text_of(browser, f"/alerts/{episode.pk}/{sign_off}/")


def test_as_long_as_it_counts_it_asks_to_look_at_it_again(enter: Enter, runa: Staff, aurel: Episode) -> None:
    seen = said_of(enter(runa), aurel, signed(runa, aurel))
    assert (ASKS in seen, LEFT in seen) == (True, False)


def test_once_withdrawn_it_says_when_and_by_whom_on_every_page_that_asks(
    enter: Enter, runa: Staff, aurel: Episode
) -> None:
    sign_off, lead = signed(runa, aurel), a_lead(name="Marit Sundeval")
    at = clock.now() - timedelta(minutes=3)
    imported(lead, aurel, an_entry("sign_off_withdrawn", by=lead, at=at, skill="don_check", reason="not carried"))
    browser = enter(lead)
    for address in ("/alerts/", f"/alerts/{aurel.pk}/{sign_off}/", "/day-end/"):
        seen = text_of(browser, address)
        assert f"The sign-off was withdrawn on {moment(at)} by Marit Sundeval. {LEFT}" in seen, address
        assert ASKS not in seen, address


def test_so_does_the_alert_of_one_given_without_authority(enter: Enter) -> None:
    signer = a_therapist(registered=False)
    episode = an_episode(assigned_to=signer)
    sign_off = signed(signer, episode)
    assert AUTHORITY in said_of(enter(signer), episode, sign_off)
    withdrawn(a_lead(), episode)
    seen = said_of(enter(signer), episode, sign_off)
    assert (AUTHORITY in seen, ASKS in seen, seen.count(LEFT)) == (False, False, 1)


def test_a_withdrawal_before_it_or_struck_out_or_of_another_skill_or_person_is_none(
    enter: Enter, runa: Staff, aurel: Episode
) -> None:
    withdrawn(runa, aurel, days=30)
    sign_off = signed(runa, aurel)
    signed(runa, aurel, "stand_load")
    withdrawn(runa, aurel, "stand_load")
    signed(runa, other := an_episode(assigned_to=runa))
    withdrawn(runa, other)
    struck = withdrawn(runa, aurel)
    imported(runa, aurel, an_entry("struck_out", by=runa, entry=struck["id"], reason="another person"))
    seen = said_of(enter(runa), aurel, sign_off)
    assert (ASKS in seen, LEFT in seen) == (True, False)


def test_signed_anew_the_later_one_counts_and_is_asked_about_itself(enter: Enter, runa: Staff, aurel: Episode) -> None:
    first, again = signed(runa, aurel), signed(runa, aurel, days=3)
    browser = enter(runa)
    seen = said_of(browser, aurel, first)
    assert "The skill was signed off anew on" in seen
    assert (f"by {runa.name}: that sign-off counts instead of this one. {LEFT}" in seen, ASKS in seen) == (True, False)
    assert ASKS in said_of(browser, aurel, again)


@pytest.mark.parametrize(
    "came",
    [a_fall(skill="sit_stand"), an_entry("setting_changed", setting="socket", to="one ply")],
    ids=["fall", "socket"],
)
def test_fallen_back_it_says_since_when(enter: Enter, runa: Staff, aurel: Episode, came: dict[str, Any]) -> None:
    sign_off, at = signed(runa, aurel, "sit_stand"), ago(minutes=3)
    imported(runa, aurel, {**came, "at": stamp(at), "by": runa.reference})
    seen = said_of(enter(runa), aurel, sign_off)
    assert f"The sign-off no longer counts since {moment(at)}: the skill must be proven again. {LEFT}" in seen
    assert ASKS not in seen


def test_lapsed_it_says_since_when(enter: Enter, runa: Staff, aurel: Episode) -> None:
    sign_off = signed(runa, aurel, days=900)
    seen = said_of(enter(runa), aurel, sign_off)
    assert "The sign-off lapsed on" in seen
    assert (LEFT in seen, ASKS in seen) == (True, False)


@pytest.mark.usefixtures("at_noon")  # the clock stands: nothing is asked for the time that passes
def test_however_many_there_are_the_page_asks_no_more_often(enter: Enter, runa: Staff) -> None:
    browser = enter(runa)

    def asked(many: int) -> int:
        for _number in range(many):
            signed(runa, episode := an_episode(assigned_to=runa))
            signed(runa, an_episode(assigned_to=runa))
            withdrawn(runa, episode)
        page(browser, "/alerts/")
        with CaptureQueriesContext(connection) as statements:
            page(browser, "/alerts/")
        return len(statements)

    few = asked(1)
    assert asked(3) == few
    assert sum(bool(act.over) for act in acts(runa, at=clock.now())) == 4
