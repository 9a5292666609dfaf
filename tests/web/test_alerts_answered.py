"""An answer to an alert: whose it is stands at its field; it is added to, and taken back where it is wrong."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client

from tests.makers import a_therapist, an_episode
from tests.web.test_alerts_page import a_skipped_start_check, text_of

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def test_an_answer_on_the_wrong_alert_is_added_to_or_taken_back_where_it_stands(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    address = f"/alerts/{episode.pk}/{a_skipped_start_check(therapist, episode)}/"
    browser = enter(therapist)
    assert "take it back" not in text_of(browser, address)
    browser.post(address, {"text": "Knee charged."})
    assert "Add to the answer, or take it back" in text_of(browser, "/alerts/?state=answered")
    assert "take it back Then say above why." in text_of(browser, address)
    assert "Record it" in text_of(browser, address)  # either of the two
    browser.post(address, {"text": "And checked."})
    assert "And checked." in text_of(browser, "/alerts/?state=answered")
    browser.post(address, {"text": "Meant for another alert.", "wrong": "on"})
    waits = browser.get("/alerts/").content.decode()
    assert "<s>Knee charged.</s>" in waits
    assert "<s>And checked.</s>" in waits
    assert f"Taken back, because: Meant for another alert. {therapist.name}" in text_of(browser)
    assert browser.get("/alerts/tally/").json()["mine"] == 1


def test_so_it_is_added_to_and_taken_back_by_the_api(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    entry = a_skipped_start_check(therapist, episode)
    browser, address = enter(therapist), f"/api/v1/episodes/{episode.pk}/acts/{entry}/answered/"
    sent: list[dict[str, object]] = [{"text": "Knee charged."}, {"text": "And checked."}]
    sent.append({"text": "Meant for another.", "taken_back": True})
    came = [browser.post(address, one, content_type="application/json").json() for one in sent]
    answered = {"answered": 1, "taken_back": 0}
    assert came == [answered, answered, {"answered": 0, "taken_back": 1}]
    (act,) = browser.get("/api/v1/alerts/").json()["items"]
    kinds = [step["kind"] for step in act["rules"][0]["steps"]]
    assert (act["state"], kinds) == ("waiting", ["raised", "acknowledged", "acknowledged", "taken_back"])


def test_the_field_of_the_answer_names_the_person(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    entry = a_skipped_start_check(therapist, episode)
    label = re.compile(rf"<label [^>]*>What was done for {episode.person.full_name}</label>")
    assert label.search(enter(therapist).get("/alerts/").content.decode())
    assert label.search(enter(therapist).get(f"/alerts/{episode.pk}/{entry}/").content.decode())
