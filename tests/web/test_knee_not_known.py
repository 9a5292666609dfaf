"""A knee that nobody knows yet is not a knee without features: said to whoever assigns, and careful after."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from caseload.models import Episode, Referral
from checklists.models import Entry
from clinic.models import TrailRow
from tests.makers import (
    a_lead,
    a_person,
    a_prosthetist,
    a_referral,
    a_therapist,
    an_attempt,
    an_entry,
    recorded,
)
from tests.web.test_caseload_lead import SENT

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
CANNOT = "knee not known: whether they may teach it cannot be said"


def assign(referral: Referral, page: str = "assign") -> str:
    return f"/caseload/referrals/{referral.pk}/{page}/"


def shown(page: str, name: str, end: str) -> str:
    return page[page.index(name) : page.index(end, page.index(name))]


@pytest.mark.parametrize(
    ("ticked", "kept"),
    [(["unknown"], None), (["none"], []), (["lock", "resistance"], ["lock", "resistance"])],
)
def test_not_known_and_nothing_are_answers_of_their_own(
    enter: Enter, ticked: list[str], kept: list[str] | None
) -> None:
    lead = a_lead()
    enter(lead).post("/caseload/referrals/", {**SENT, "features": ticked, "site_id": str(lead.site_id)})
    assert Referral.objects.get().features == kept


@pytest.mark.parametrize("ticked", [[], ["lock", "unknown"], ["none", "lock"], ["none", "unknown"]])
def test_no_answer_or_two_that_contradict_are_refused(enter: Enter, ticked: list[str]) -> None:
    lead = a_lead()
    answer = enter(lead).post("/caseload/referrals/", {**SENT, "features": ticked, "site_id": str(lead.site_id)})
    assert (answer.status_code, Referral.objects.exists()) == (422, False)


def test_an_untouched_form_says_not_known_yet(enter: Enter) -> None:
    page = enter(a_lead()).get("/caseload/referrals/").content.decode()
    boxes = [box for box in page.split("<input") if 'name="features"' in box]
    assert [("checked" in box.partition(">")[0]) for box in boxes] == [False] * 5 + [True]


def test_of_an_unknown_knee_only_whoever_may_teach_any_is_green(enter: Enter) -> None:
    a_therapist(name="Jonas Wexthorn")
    a_therapist(name="Dele Morrowby", authorised=[])
    referral, browser = a_referral(a_person(given_name="Hollis"), features=None), enter(a_lead())
    row = shown(browser.get("/caseload/").content.decode(), "Hollis", "</tr>")
    assert "knee not known" in row
    assert ("Jonas Wexthorn" in row, "Dele Morrowby" in row) == (True, False)
    page = browser.get(assign(referral)).content.decode()
    assert "no lock" not in page
    assert "not known yet" in shown(page, "The knee has", "</div>")
    assert "may teach any knee" in shown(page, "<span>Jonas Wexthorn", "candidate")
    assert CANNOT in shown(page, "<span>Dele Morrowby", "</fieldset>")
    assert "may teach" not in shown(page, "<span>Dele Morrowby", "</fieldset>").replace(CANNOT, "")


def test_an_unknown_knee_stays_unknown_until_the_record_says_it(enter: Enter) -> None:
    """No skill counts on a feature, the tablet offers every mode, and another therapist is judged by any knee."""
    lead, mine, referral = a_lead(), a_therapist(), a_referral(features=None)
    a_therapist(name="Dele Morrowby", authorised=[])
    browser = enter(lead)
    browser.post(assign(referral), {"therapist_id": str(mine.pk), "version": "1"})
    episode = Episode.objects.get()
    assert (episode.knee, episode.features) == (None, [])
    assert CANNOT in browser.get(f"/people/{episode.pk}/plan/reassign/").content.decode()
    assert "knee not known yet" in enter(mine).get(f"/people/{episode.pk}/").content.decode()
    taken = recorded(mine, episode, an_attempt("yield_load"))
    assert "feature" in {one["rule"] for one in taken.verdicts[0].alerts}
    bench = a_prosthetist()
    recorded(bench, episode, an_entry("setting_changed", setting="knee", features=[]))
    episode.refresh_from_db()
    assert episode.knee == []
    change = Entry.objects.get(kind="setting_changed")
    recorded(bench, episode, an_entry("struck_out", entry=str(change.id), reason="another person"))
    episode.refresh_from_db()
    assert episode.knee is None


def test_a_referral_that_waits_is_put_right_from_assign_and_from_known_here(enter: Enter) -> None:
    referral, lead = a_referral(a_person(given_name="Hollis"), features=None), a_lead()
    browser, change = enter(lead), assign(referral, "change")
    assert change in browser.get(assign(referral)).content.decode()
    found = browser.post("/caseload/referrals/known/", {"q": "hollis"}).content.decode()
    assert ("waits already" in found, change in found, "?person=" in found) == (True, True, False)
    page = browser.get(change).content.decode()
    assert 'value="To walk to the shop again."' in page or ">\nTo walk to the shop again.</textarea>" in page
    said = {**SENT, "site_id": str(referral.site_id), "version": "1"}
    assert browser.post(change, {**said, "side": "both"}).status_code == 422
    browser.post(change, said)
    referral.refresh_from_db()
    assert (referral.features, referral.side, referral.version) == (["lock", "yielding"], "right", 2)
    row = TrailRow.objects.get(verb="referral.changed")
    assert "features" in row.detail["fields"]


def test_a_change_or_an_assignment_from_an_older_state_is_refused_once(enter: Enter) -> None:
    """The knee decides who may teach it: whoever chose by the old one looks again."""
    mine, referral, browser = a_therapist(), a_referral(features=None), enter(a_lead())
    said = {**SENT, "site_id": str(referral.site_id), "version": "1"}
    browser.post(assign(referral, "change"), said)
    assert browser.post(assign(referral, "change"), {**said, "side": "left"}).status_code == 412
    answer = browser.post(assign(referral), {"therapist_id": str(mine.pk), "version": "1"})
    assert (answer.status_code, Episode.objects.exists()) == (412, False)
    assert 'name="version" value="2"' in answer.content.decode()


def test_a_referral_that_became_an_episode_is_not_changed_any_more(enter: Enter) -> None:
    referral, browser = a_referral(), enter(a_lead())
    browser.post(assign(referral), {"therapist_id": str(a_therapist().pk), "version": "1"})
    said = {**SENT, "site_id": str(referral.site_id), "version": "1"}
    assert browser.post(assign(referral, "change"), said).status_code == 409
