"""An older fact is struck out from the person's page, by whoever may record such a fact, with the reason."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from checklists.models import Entry
from tests.makers import (
    a_check,
    a_prosthetist,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def text_of(browser: Client, address: str) -> str:
    answer = browser.get(address)
    assert answer.status_code == 200, address
    return str(answer.content.decode())


def test_a_setting_of_yesterday_is_struck_out_by_a_prosthetist_and_by_no_assistant(enter: Enter) -> None:
    bench, episode = a_prosthetist(), an_episode()
    wrong = an_entry("setting_changed", at=ago(days=1), by=bench, setting="resistance")
    imported(bench, episode, wrong)
    page, address = f"/people/{episode.pk}/", f"/people/{episode.pk}/strike-out/?entry={wrong['id']}"
    assistant = enter(an_assistant())
    assert address not in text_of(assistant, page)
    refused = assistant.post(address, {"reason": "not so"})
    assert refused.status_code in (403, 409)
    assert not Entry.objects.filter(episode=episode, kind="struck_out").exists()

    browser = enter(bench)
    assert address in text_of(browser, page)
    assert "Resistance" in text_of(browser, address)
    assert browser.post(address, {"reason": " "}).status_code == 422
    assert browser.post(address, {"reason": "The other knee"}).status_code == 302
    assert Entry.objects.get(episode=episode, kind="struck_out").by == bench
    after = text_of(browser, page)
    assert "The other knee" in after
    assert address not in after


def test_what_has_a_way_of_its_own_is_not_struck_out_here(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    imported(therapist, episode, a_check(at=ago(days=1), by=therapist))
    opening = Entry.objects.get(episode=episode, kind="episode_opened").id
    browser = enter(therapist)
    assert f"strike-out/?entry={opening}" not in text_of(browser, f"/people/{episode.pk}/")
    for wanted in (f"?entry={opening}", "?entry=nothing", ""):
        answer = browser.post(f"/people/{episode.pk}/strike-out/{wanted}", {"reason": "not so"})
        assert answer.status_code == 422, wanted
    assert not Entry.objects.filter(episode=episode, kind="struck_out").exists()


def test_the_entry_stands_there_with_its_result_and_after_it_is_struck_out_the_way_to_the_right_one(
    enter: Enter,
) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    wrong = an_attempt(result="unsafe", at=ago(days=1), by=therapist)
    imported(therapist, episode, wrong)
    browser, address = enter(therapist), f"/people/{episode.pk}/strike-out/?entry={wrong['id']}"
    seen = text_of(browser, address)
    assert ", unsafe</b>" in seen
    assert "Then enter the right one." in seen
    again = f"/people/{episode.pk}/paper/enter/?again={wrong['id']}"
    assert (
        f"<a href='{again}'>Enter the right one</a>"
        in browser.post(address, {"reason": "mistyped"}, follow=True).content.decode()
    )
    page = browser.get(again).context["page"]
    (line,) = page.lines
    assert {name: line.form[name].value() for name in ("kind", "skill", "support", "help", "result")} == {
        "kind": "attempt",
        **{name: wrong[name] for name in ("skill", "support", "help", "result")},
    }
    local = datetime.fromisoformat(wrong["at"]).astimezone(ZoneInfo(episode.site.time_zone))
    assert (page.day["day"].value(), line.form["time"].value()) == (local.date(), local.time())


def test_what_alerts_came_of_a_strike_out_is_said(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    check = a_check(at=ago(minutes=20), by=therapist)
    imported(therapist, episode, check, an_attempt(at=ago(minutes=10), by=therapist))
    address = f"/people/{episode.pk}/strike-out/?entry={check['id']}"
    said = enter(therapist).post(address, {"reason": "another person"}, follow=True).content.decode()
    assert "Struck out. <a href='/alerts/'>1 alert came of it.</a>" in said
