"""An older fact is struck out from the person's page, by whoever may record such a fact, with the reason."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from caseload.models import Episode
from checklists.alerts.models import Alert
from checklists.models import Entry
from clinic.staff.models import Staff
from tests.makers import (
    a_check,
    a_lead,
    a_prosthetist,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
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
    entry = Alert.objects.get().entry
    way = f"/alerts/?first={entry}#act-{entry}"
    assert f"Struck out. <a href='{way}'>1 alert came of it.</a>" in said


def a_strike(at_work: Staff, episode: Episode, **days: int) -> dict[str, object]:
    """An attempt of theirs that was struck out, so long ago or at once."""
    wrong = an_attempt(at=ago(days=3), by=at_work)
    imported(at_work, episode, wrong)
    strike = an_entry("struck_out", entry=wrong["id"], reason="mistyped", by=at_work, at=ago(**days))
    (imported if days else recorded)(at_work, episode, strike)
    return wrong


def test_the_way_to_the_right_one_stands_on_the_line_that_was_struck_out_today_and_not_in_print(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    wrong = a_strike(therapist, episode)
    again = f'<a class="no-print" href="/people/{episode.pk}/paper/enter/?again={wrong["id"]}">Enter the right one'
    page = f"/people/{episode.pk}/"
    assert text_of(enter(therapist), page).count(again) == 1
    assert again in text_of(enter(a_lead()), page)
    assert again not in text_of(enter(a_prosthetist()), page)


def test_of_a_strike_of_another_day_the_line_leads_nowhere(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    a_strike(therapist, episode, days=2)
    seen = text_of(enter(therapist), f"/people/{episode.pk}/")
    assert "Struck out: mistyped" in seen
    assert "Enter the right one" not in seen


def test_once_the_right_one_stands_there_the_line_leads_nowhere_any_more(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    wrong = a_strike(therapist, episode)
    browser, page = enter(therapist), f"/people/{episode.pk}/"
    another = datetime.fromisoformat(str(wrong["at"])) + timedelta(hours=1)
    imported(therapist, episode, an_attempt(at=another, by=therapist))
    assert "Enter the right one" in text_of(browser, page)
    imported(therapist, episode, an_attempt(at=datetime.fromisoformat(str(wrong["at"])), by=therapist))
    assert "Enter the right one" not in text_of(browser, page)


def test_of_a_setting_the_line_leads_to_no_sheet(enter: Enter) -> None:
    bench, lead = a_prosthetist(), a_lead()
    episode = an_episode()
    wrong = an_entry("setting_changed", at=ago(days=1), by=bench, setting="resistance")
    imported(bench, episode, wrong)
    recorded(bench, episode, an_entry("struck_out", entry=wrong["id"], reason="The other knee", at=now()))
    for who in (bench, lead):
        seen = text_of(enter(who), f"/people/{episode.pk}/")
        assert "Struck out: The other knee" in seen
        assert "Enter the right one" not in seen
