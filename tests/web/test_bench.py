"""The Bench: the queue, what a change sets back before it is made, and the change itself.

What falls back on what is written out here from the clinic's table of skills (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import AdjustmentRequest, Episode, Prosthesis
from caseload.request.services import ask_adjustment, reword_request
from caseload.visit.models import Visit
from checklists.bench.selectors import work
from checklists.record.models import Entry, Head
from clinic import clock
from clinic.models import Staff, TrailRow
from tests.makers import (
    a_cover,
    a_lead,
    a_person,
    a_prosthetist,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
FALLS_BACK = {
    "resistance": {"backwards", "yield_load", "yield_slow", "ramp_down", "stair_edge", "stair_down", "kneel"},
    "socket": {"don_check", "sit_stand", "stand_load"},
    "footwear": {"stair_edge", "stair_down"},
    "foot": {
        *("don_check", "weight_shift", "swing_release", "short_steps", "even_walk"),
        *("stair_up", "stair_edge", "stair_down", "kerb_uneven"),
    },
    "alignment": {
        *("sit_stand", "stand_load", "weight_shift", "swing_release", "short_steps", "even_walk"),
        *("ramp_up", "ramp_down", "stair_up"),
    },
}
SKILLS = (
    *("don_check", "sit_stand", "stand_load", "weight_shift", "hip_drive", "swing_release", "short_steps", "even_walk"),
    *("turns", "backwards", "yield_load", "yield_slow", "ramp_up", "ramp_down", "stair_up", "stair_edge", "stair_down"),
    *("kneel", "floor_rise", "kerb_uneven", "obstacle", "carry", "car", "lock_use", "free_swing_use"),
)


def all_signed(mine: Staff | None = None, **fields: object) -> Episode:
    """Somebody whose every skill is signed off, a week ago."""
    mine = mine or a_therapist(name="Jonas Wexthorn")
    episode = an_episode(assigned_to=mine, **fields)  # type: ignore[arg-type]  # passed on as it came
    signed = [
        an_entry("sign_off", skill=skill, by=mine, at=ago(days=7), seq=number) for number, skill in enumerate(SKILLS)
    ]
    done = imported(a_lead(), episode, *signed)
    assert {verdict.outcome for verdict in done.verdicts} == {"accepted"}, done.verdicts
    return episode


def registered(episode: Episode, side: str = "left") -> Episode:
    """The same, with a prosthesis in the register."""
    Prosthesis.objects.create(episode=episode, side=side, label="Day leg")
    return episode


def asked(episode: Episode, setting: str = "resistance") -> AdjustmentRequest:
    mine = episode.assignments.get().staff
    return ask_adjustment(actor=mine, episode_id=episode.pk, setting=setting, text="Yields too early on the slope.")


def statuses(episode: Episode) -> dict[str, str]:
    return {key: said["status"] for key, said in Head.objects.get(episode=episode).board["skills"].items()}


def change(browser: Client, address: str, **said: object) -> dict[str, object]:
    """A change as the page at this address sends it: with what it has shown."""
    found = re.search(r'name="shown" value="(\w+)"', browser.get(address).content.decode())
    shown = found.group(1) if found else ""
    return {"entry_id": str(uuid4()), "version": 0, "to": "7", "before": "6", "shown": shown, **said}


def sent(browser: Client, address: str, **said: object) -> Any:
    return browser.post(address, change(browser, address, **said))


@pytest.mark.parametrize("setting", [*FALLS_BACK, "knee"])
def test_the_price_names_what_falls_back_and_recording_does_just_that(enter: Enter, setting: str) -> None:
    episode, bench = all_signed(), a_prosthetist()
    price = work(bench, episode.pk, at=clock.now(), setting=setting).price
    foreseen = {one.key for one in price.back}
    assert foreseen == (FALLS_BACK[setting] if setting in FALLS_BACK else set(SKILLS) - {"don_check"})
    more = {"features": ["lock", "free_swing", "yielding"]} if setting == "knee" else {}
    answer = sent(enter(bench), f"/bench/{episode.pk}/?setting={setting}", **more)
    assert answer.status_code == 302, answer.content.decode()
    assert {key for key, status in statuses(episode).items() if status == "suspended"} == foreseen


def test_working_out_a_price_records_nothing(enter: Enter) -> None:
    episode = all_signed()
    before = Entry.objects.filter(episode=episode).count(), bytes(Head.objects.get(episode=episode).snapshot)
    enter(a_prosthetist()).get(f"/bench/{episode.pk}/?setting=knee")
    assert (Entry.objects.filter(episode=episode).count(), bytes(Head.objects.get(episode=episode).snapshot)) == before


def test_the_page_says_the_price_in_words_before_anything_is_recorded(enter: Enter) -> None:
    episode = all_signed(person=a_person(given_name="Tamsin", family_name="Oyelledge"))
    page = enter(a_prosthetist()).get(f"/bench/{episode.pk}/?setting=resistance").content.decode()
    assert "A change of stance-flexion resistance will set 9 skills back" in page
    assert "7 to be proven again, 2 that rest on them" in page
    assert "Record the change, set 9 skills back" in page
    table = page[page.index("What is needed then") :]
    assert [name in table for name in ("Slope down", "Stairs down", "Kerbs")] == [True, True, True]
    assert "waits until proven again: Full weight, knee bending, Yielding to slow down, Slope down" in table


def test_a_change_that_sets_nothing_back_says_so(enter: Enter) -> None:
    page = enter(a_prosthetist()).get(f"/bench/{registered(an_episode()).pk}/?setting=foot").content.decode()
    assert "No signed skill is set back by this" in page


def test_evidence_that_would_begin_anew_is_named() -> None:
    mine, bench = a_therapist(), a_prosthetist()
    episode = an_episode(assigned_to=mine)
    below = ("don_check", "stand_load", "weight_shift", "hip_drive", "swing_release")
    signed = [an_entry("sign_off", skill=skill, by=mine, at=ago(days=7), seq=at) for at, skill in enumerate(below)]
    safe = [
        an_attempt("yield_load", rung, by=mine, at=ago(hours=hours))
        for rung, hours in (("bars_both", 3), ("bars_one", 2))
    ]
    imported(a_lead(), episode, *signed, *safe)
    anew = {
        setting: work(bench, episode.pk, at=clock.now(), setting=setting).price.anew
        for setting in ("resistance", "footwear")
    }
    assert anew == {"resistance": ("Full weight, knee bending",), "footwear": ()}


def test_an_exchange_of_the_knee_says_what_must_be_proven_first(enter: Enter) -> None:
    price = work(a_prosthetist(), all_signed().pk, at=clock.now(), setting="knee").price
    assert price.first
    page = enter(a_prosthetist()).get(f"/bench/{all_signed().pk}/?setting=knee").content.decode()
    assert "First thing then:" in page


def test_the_bench_names_who_has_no_prosthesis_and_says_where_nobody_lacks_one(enter: Enter) -> None:
    episode, client = an_episode(), enter(a_prosthetist())
    lacking = client.get("/bench/").content.decode()
    assert "No prosthesis registered yet" in lacking
    assert f"/people/{episode.pk}/plan/" in lacking
    Prosthesis.objects.create(episode=episode, side="left", label="Day leg")
    has = client.get("/bench/").content.decode()
    assert "Nobody: each of them has one." in has
    assert f"/people/{episode.pk}/plan/" not in has


def test_the_queue_is_oldest_first_and_a_month_old_one_stands_out(enter: Enter) -> None:
    new, old = (all_signed(person=a_person(given_name=name)) for name in ("New", "Old"))
    asked(new)
    request = asked(old)
    AdjustmentRequest.objects.filter(pk=request.pk).update(asked_at=now() - timedelta(days=31))
    page = enter(a_prosthetist()).get("/bench/").content.decode()
    assert page.index("Old Ashdown") < page.index("New Ashdown")
    assert page.count("open for 31 days") == 1


def test_recording_the_change_answers_the_request_and_keeps_the_history(enter: Enter) -> None:
    episode, bench = all_signed(), a_prosthetist(name="Ebo Lanterne")
    request = asked(episode)
    browser, address = enter(bench), f"/bench/{episode.pk}/requests/{request.pk}/"
    assert "Record the change, set 9 skills back, answer Jonas Wexthorn" in browser.get(address).content.decode()
    page = browser.post(address, change(browser, address, version=1), follow=True).content.decode()
    assert (
        "7 skills to be proven again, 2 that rest on them. Whoever asked is told, and who leads the sessions now."
        in page
    )
    request.refresh_from_db()
    assert (request.state, request.entry) == ("done", Entry.objects.get(kind="setting_changed").id)
    history = browser.get(f"/bench/{episode.pk}/").content.decode()
    assert "Resistance, 6 to <b>7</b>" in history
    assert "0 of 7 signed again" in history


def test_a_change_of_something_else_answers_no_request_and_does_not_say_so(enter: Enter) -> None:
    episode = all_signed()
    request = asked(episode, "alignment")
    browser, address = enter(a_prosthetist()), f"/bench/{episode.pk}/requests/{request.pk}/?setting=resistance"
    assert "answer Jonas Wexthorn" not in browser.get(address).content.decode()
    page = browser.post(address, change(browser, address, version=1), follow=True).content.decode()
    assert "that rest on them." in page
    assert "Whoever asked is told, and who leads the sessions now." not in page
    request.refresh_from_db()
    assert (request.state, request.entry) == ("asked", None)


def test_the_new_value_is_asked_for_above_the_list_of_what_it_sets_back(enter: Enter) -> None:
    page = enter(a_prosthetist()).get(f"/bench/{all_signed().pk}/?setting=alignment").content.decode()
    places = [
        page.index(words)
        for words in ("skills back", 'id="id_to"', 'act-main">Record the change, set', "What is needed")
    ]
    assert places == sorted(places)


def test_who_may_not_go_on_although_nothing_of_theirs_is_set_back_is_named(enter: Enter) -> None:
    """After a change of resistance the slope waits until yielding is proven, whatever stands of the slope itself."""
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    below = SKILLS[: SKILLS.index("even_walk") + 1]
    signed = [an_entry("sign_off", skill=skill, by=mine, at=ago(days=7), seq=at) for at, skill in enumerate(below)]
    slope = an_attempt("ramp_up", "contralateral_rail", by=mine, at=ago(days=1), help="watching")
    imported(a_lead(), episode, *signed, slope)
    bench = a_prosthetist()
    until = {
        key: work(bench, episode.pk, at=clock.now(), setting=key).price.until for key in ("resistance", "footwear")
    }
    assert until == {"resistance": ("Slope up",), "footwear": ()}
    page = enter(bench).get(f"/bench/{episode.pk}/?setting=resistance").content.decode()
    assert "<b>Until that is done these wait as well:</b> Slope up." in page
    assert '<span class="quiet">1 more waits: Slope up</span>' in page, "the head counts who waits"


def test_whoever_stays_signed_off_and_waits_has_a_word_for_it(enter: Enter) -> None:
    page = enter(a_prosthetist()).get(f"/bench/{all_signed().pk}/?setting=resistance").content.decode()
    assert page.count("signed off, but waits") == 2


def test_somebody_who_is_planned_for_today_and_has_not_begun_is_named_as_such(enter: Enter) -> None:
    request = asked(all_signed())
    episode = request.episode
    mine = episode.assignments.get().staff
    soon = {"episode": episode, "staff": mine, "site": episode.site, "minutes": 45}
    Visit.objects.create(starts_at=now() - timedelta(days=1), **soon)
    waits = Visit.objects.create(starts_at=now(), **soon)
    browser = enter(a_prosthetist())
    assert "not begun" in browser.get("/bench/").content.decode()
    waits.state = "came"
    waits.save()
    assert "not begun" not in browser.get("/bench/").content.decode()


def test_a_form_that_is_sent_twice_records_one_change(enter: Enter) -> None:
    episode = all_signed()
    browser, address = enter(a_prosthetist()), f"/bench/{episode.pk}/"
    said = change(browser, address)
    assert [browser.post(address, said).status_code for _ in range(2)] == [302, 302]
    assert Entry.objects.filter(kind="setting_changed").count() == 1


def test_going_back_and_sending_another_value_is_refused_rather_than_lost(enter: Enter) -> None:
    episode, browser = all_signed(), enter(a_prosthetist())
    address = f"/bench/{episode.pk}/"
    said = change(browser, address)
    browser.post(address, said)
    answer = browser.post(address, {**said, "to": "8"})
    assert answer.status_code == 422
    assert "stands here already with other content" in answer.content.decode()


def test_the_bench_that_answers_what_was_reworded_meanwhile_is_told_and_keeps_what_was_typed(enter: Enter) -> None:
    episode = all_signed()
    request = asked(episode)
    mine = episode.assignments.get().staff
    reword_request(actor=mine, request_id=request.pk, version=1, setting="resistance", text="Much stiffer, please.")
    browser, address = enter(a_prosthetist()), f"/bench/{episode.pk}/requests/{request.pk}/"
    answer = sent(browser, address, version=1, note="On the second mark.")
    page = answer.content.decode()
    assert answer.status_code == 412
    assert "Jonas Wexthorn" in page
    assert "On the second mark." in page
    assert not Entry.objects.filter(kind="setting_changed").exists()


def test_the_dial_has_the_marks_of_the_persons_own_scale(enter: Enter) -> None:
    episode = an_episode()
    Prosthesis.objects.create(episode=episode, side="left", label="Day leg", resistance_low=2, resistance_high=12)
    browser = enter(a_prosthetist())
    page = browser.get(f"/bench/{episode.pk}/?setting=resistance").content.decode()
    assert ('value="12"' in page, 'value="13"' in page, 'value="1"' in page) == (True, False, False)
    assert sent(browser, f"/bench/{episode.pk}/?setting=resistance", to="13").status_code == 422


def test_whoever_has_two_prostheses_is_asked_which(enter: Enter) -> None:
    episode = registered(registered(an_episode(side="both")), "right")
    browser = enter(a_prosthetist())
    address = f"/bench/{episode.pk}/?setting=foot"
    assert [sent(browser, address).status_code, sent(browser, address, knee="left").status_code] == [422, 302]


def test_a_request_is_seen_with_one_press_and_declined_with_a_reason(enter: Enter) -> None:
    request = asked(all_signed())
    browser = enter(a_prosthetist(name="Ebo Lanterne"))
    told = {"version": 1, "note": "On Friday"}
    page = browser.post(f"/bench/requests/{request.pk}/see/", told, follow=True).content.decode()
    assert "will be seen to (Ebo Lanterne: “On Friday”)" in page
    plan = enter(request.asked_by).get(f"/people/{request.episode_id}/plan/").content.decode()
    assert "On Friday" in plan
    address = f"/bench/requests/{request.pk}/decline/"
    assert browser.post(address, {"version": 2, "reason": ""}).status_code == 422
    assert browser.post(address, {"version": 2, "reason": "The socket first."}).status_code == 302
    request.refresh_from_db()
    assert (request.state, request.answer) == ("declined", "The socket first.")
    bench = browser.get("/bench/").content.decode()
    assert "“The socket first.”" in bench[bench.index('id="h-answered"') :]
    AdjustmentRequest.objects.update(done_at=now() - timedelta(days=40))
    assert ["The socket first" in browser.get(page).content.decode() for page in ("/bench/", "/bench/?earlier")] == [
        False,
        True,
    ]


def test_the_latest_changes_of_all_knees_stand_on_the_bench(enter: Enter) -> None:
    episode = registered(an_episode(person=a_person(given_name="Halvard", family_name="Quill")))
    browser = enter(a_prosthetist(name="Ebo Lanterne"))
    sent(browser, f"/bench/{episode.pk}/?setting=alignment", to="2 degrees of flexion", before="")
    page = browser.get("/bench/").content.decode()
    latest = page[page.index('id="h-recent"') :]
    assert all(words in latest for words in ("Halvard Quill", "Alignment: 2 degrees of flexion", "Ebo Lanterne"))


def test_a_request_about_somebody_else_is_not_found(enter: Enter) -> None:
    request, other = asked(an_episode()), an_episode()
    assert enter(a_prosthetist()).get(f"/bench/{other.pk}/requests/{request.pk}/").status_code == 404


@pytest.mark.parametrize("maker", [a_lead, a_therapist, an_assistant])
def test_the_bench_is_the_prosthetists(enter: Enter, maker: Callable[[], Staff]) -> None:
    staff, episode = maker(), an_episode()
    browser = enter(staff)
    pages = [
        browser.get("/bench/"),
        browser.get(f"/bench/{episode.pk}/"),
        sent(browser, f"/bench/{episode.pk}/"),
    ]
    assert [page.status_code for page in pages] == [403, 403, 403]
    assert not Entry.objects.filter(kind="setting_changed").exists()


def test_opening_somebody_at_the_bench_is_in_the_trail(enter: Enter) -> None:
    bench, episode = a_prosthetist(), an_episode()
    enter(bench).get(f"/bench/{episode.pk}/")
    row = TrailRow.objects.get(actor=bench, verb="person.opened")
    assert (row.episode, row.detail["page"]) == (episode.pk, "bench")


def test_the_bench_costs_the_same_however_many_requests(enter: Enter) -> None:
    browser, counts = enter(a_prosthetist()), []
    for _ in range(2):
        for _ in range(3):
            asked(an_episode())
        with CaptureQueriesContext(connection) as caught:
            browser.get("/bench/")
        counts.append(len(caught))
    assert counts[0] >= counts[1]


def test_the_head_of_the_bench_names_who_stands_in(enter: Enter) -> None:
    jonas, lucie = a_therapist(name="Jonas Wexthorn"), a_therapist(name="Lucie Amberwick")
    episode = an_episode(assigned_to=jonas)
    browser = enter(a_prosthetist())
    assert "with Jonas Wexthorn" in browser.get(f"/bench/{episode.pk}/").content.decode()
    a_cover(episode, lucie, start=now() - timedelta(days=1), end=None)
    assert "with Lucie Amberwick, for Jonas Wexthorn" in browser.get(f"/bench/{episode.pk}/").content.decode()
