"""The Alerts page: one act a row, its rules inside, what to do now; answered with what was done; withdrawn, seen."""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest
from django.test import Client

from caseload.models import Episode
from caseload.request.services import ask_adjustment, decline_request
from checklists.alerts.models import Alert, Notice
from clinic import clock
from clinic.models import Staff, TrailRow
from clinic.staff.roles import Role
from tests.makers import (
    a_check,
    a_lead,
    a_person,
    a_prosthetist,
    a_records_officer,
    a_staff,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    recorded,
)

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def a_skipped_start_check(by: Staff, episode: Episode) -> UUID:
    """An attempt in an open session without the start check: one act, one rule. Its id."""
    attempt = an_attempt("sit_stand", at=ago(minutes=5))
    verdicts = recorded(by, episode, an_entry("session_opened", at=ago(minutes=6)), attempt).verdicts
    assert [verdict.error for verdict in verdicts] == [None, None]
    assert list(Alert.objects.filter(episode=episode).values_list("rule", flat=True)) == ["start_check"]
    return UUID(str(attempt["id"]))


def text_of(browser: Client, address: str = "/alerts/") -> str:
    answer = browser.get(address)
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def many_at_once(by: Staff, count: int) -> set[str]:
    """Acts that all become known with one call, at one instant: a tablet that had no signal, or an import."""
    batch = [an_attempt("sit_stand", "none", help="alone", at=ago(minutes=9, seconds=n)) for n in range(count)]
    recorded(by, an_episode(assigned_to=by), *batch)
    assert Alert.objects.values("known_at").distinct().count() == 1
    return {str(one["id"]) for one in batch}


@pytest.mark.parametrize("severity", ["", "critical"])
def test_of_many_that_became_known_at_once_each_is_on_one_page(enter: Enter, severity: Any) -> None:
    therapist = a_therapist()
    wanted = many_at_once(therapist, 70)
    seen: list[str] = []
    browser, address = enter(therapist), f"/alerts/?severity={severity}"
    for _ in range(5):
        said = browser.get(address).content.decode()
        seen += re.findall(r'<article[^>]* id="act-([0-9a-f-]{36})"', said)
        older = re.search(r'href="([^"]*before=[^"]*)"', said)
        if older is None:
            break
        address = "/alerts/" + html.unescape(older[1]).removeprefix("/alerts/")
    assert sorted(seen) == sorted(wanted)


def test_so_it_is_by_the_api(enter: Enter) -> None:
    therapist = a_therapist()
    wanted, cursor = many_at_once(therapist, 25), ""
    seen: list[str] = []
    browser = enter(therapist)
    for _ in range(9):
        answer = browser.get("/api/v1/alerts/", {"limit": "4", "cursor": cursor}).json()
        seen += [one["entry"] for one in answer["items"]]
        cursor = answer["next"] or ""
        if not cursor:
            break
    assert sorted(seen) == sorted(wanted)


def test_an_act_is_one_row_with_all_its_rules_inside(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    bad = an_attempt("even_walk", "stick", at=ago(minutes=5))
    recorded(therapist, episode, an_entry("session_opened", at=ago(minutes=7)), a_check(at=ago(minutes=6)), bad)
    broken = Alert.objects.filter(entry=bad["id"]).count()
    assert broken > 1
    page = enter(therapist).get("/alerts/").content.decode()
    assert page.count("<article") == 1
    assert f"The {broken} rules that it broke" in page


def test_it_says_what_to_do_now_and_defers_to_local_policy(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    page = text_of(enter(therapist))
    assert "Do the start-of-session check now" in page
    assert "defer to local policy and licensed practice" in page


def test_severity_is_a_word_beside_a_shape(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    assert re.search(r'is-major"><svg.*?</svg><span>major</span>', enter(therapist).get("/alerts/").content.decode())


def test_answered_it_moves_to_answered_with_what_was_done(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    entry = a_skipped_start_check(therapist, episode)
    browser = enter(therapist)
    browser.post(f"/alerts/{episode.pk}/{entry}/", {"text": "Check done together, all good."})
    assert "Nothing waits for an answer" in text_of(browser)
    assert "Check done together, all good." in text_of(browser, "/alerts/?state=answered")
    assert TrailRow.objects.get(verb="alert.acknowledged").actor == therapist


def test_answered_with_nothing_it_still_waits_and_says_why(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    entry = a_skipped_start_check(therapist, episode)
    answer = enter(therapist).post(f"/alerts/{episode.pk}/{entry}/", {"text": "  "})
    assert answer.status_code == 422
    assert "This field is required" in answer.content.decode()
    assert Alert.objects.get().acknowledged_at is None


def test_withdrawn_it_is_struck_through_and_still_there(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    entry = a_skipped_start_check(therapist, episode)
    recorded(therapist, episode, an_entry("struck_out", entry=str(entry), reason="Wrong person"))
    browser = enter(therapist)
    assert "Nothing waits for an answer" in text_of(browser)
    page = browser.get("/alerts/?state=withdrawn").content.decode()
    assert "<s>The start-of-session check" in page
    assert "no longer follows, since" in page


def test_what_waits_stands_gravest_first(enter: Enter) -> None:
    therapist = a_therapist()
    grave, light = an_episode(assigned_to=therapist), an_episode(assigned_to=therapist)
    falling = an_attempt("sit_stand", at=ago(minutes=3))
    swinging = an_entry("mode_set", mode="free_swing", at=ago(minutes=4))
    recorded(
        therapist, grave, an_entry("session_opened", at=ago(minutes=6)), a_check(at=ago(minutes=5)), swinging, falling
    )
    a_skipped_start_check(therapist, light)
    shown = re.findall(r'class="alert alert-(\w+)', enter(therapist).get("/alerts/").content.decode())
    assert shown == sorted(shown, key=["critical", "major", "minor"].index)
    assert {"critical", "major"} <= set(shown)


def test_a_stranger_to_the_episode_sees_nothing_and_answers_nothing(enter: Enter) -> None:
    therapist, stranger = a_therapist(), a_therapist()
    episode = an_episode(assigned_to=therapist)
    entry = a_skipped_start_check(therapist, episode)
    browser = enter(stranger)
    assert "Nothing waits for an answer" in text_of(browser)
    assert browser.post(f"/alerts/{episode.pk}/{entry}/", {"text": "x"}).status_code == 404
    assert Alert.objects.get().acknowledged_at is None
    row = TrailRow.objects.get(verb="access.refused")
    assert (row.actor, row.episode) == (stranger, episode.pk)


def test_who_may_see_but_not_answer_is_not_asked_to(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    entry = a_skipped_start_check(therapist, episode)
    browser = enter(a_prosthetist())
    assert "Say what was done" not in text_of(browser)
    assert "for the therapist or a lead to answer" in text_of(browser)
    assert browser.post(f"/alerts/{episode.pk}/{entry}/", {"text": "x"}).status_code == 403
    assert "for you to answer" in text_of(enter(therapist))


def test_an_hour_gone_by_is_not_told_as_one_to_come(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    browser = enter(therapist)
    assert "leads will be told, unless answered" in text_of(browser)
    Alert.objects.update(known_at=ago(days=2))
    assert "nobody answered: leads not told yet" in text_of(browser)


def test_two_acts_of_one_person_lead_to_each_other(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    first = a_skipped_start_check(therapist, episode)
    assert "Also open for" not in text_of(enter(therapist))
    another = an_entry("mode_set", mode="free_swing")
    recorded(therapist, episode, another)
    second = another["id"]
    page = enter(therapist).get("/alerts/").content.decode()
    assert f'href="#act-{first}"' in page
    assert f'href="#act-{second}"' in page
    assert "and 1 more" not in page


@pytest.mark.parametrize("state", ["waiting", ""])
def test_of_many_acts_of_one_person_an_act_leads_to_the_three_gravest_on_its_page(enter: Enter, state: str) -> None:
    therapist = a_therapist()
    many_at_once(therapist, 40)
    Alert.objects.update(severity="minor")
    grave = set(Alert.objects.order_by("-known_at", "entry").values_list("entry", flat=True).distinct()[20:23])
    Alert.objects.filter(entry__in=grave).update(severity="critical")
    page = enter(therapist).get(f"/alerts/?state={state}").content.decode()
    acts = dict(re.findall(r'<article[^>]* id="act-([0-9a-f-]{36})"(.*?)</article>', page, re.DOTALL))
    assert len(acts) == 30
    for entry, act in acts.items():
        links = set(re.findall(r'href="#act-([0-9a-f-]{36})"', act))
        assert len(links) == 3
        assert links <= set(acts)
        assert {str(one) for one in grave} - {entry} <= links
        assert "and 26 more" in act


def test_answered_it_says_how_many_of_the_same_person_still_wait(enter: Enter) -> None:
    therapist = a_therapist()
    entries = sorted(many_at_once(therapist, 3))
    recorded(therapist, an_episode(assigned_to=therapist), an_attempt("sit_stand", "none", help="alone"))
    browser, episode = enter(therapist), Alert.objects.values_list("episode_id", flat=True).filter(entry=entries[0])[0]
    browser.post(f"/alerts/{episode}/{entries[0]}/", {"text": "Sat down, talked it through."})
    assert "2 more of theirs wait." in text_of(browser)
    browser.post(f"/alerts/{episode}/{entries[1]}/", {"text": "Sat down, talked it through."})
    assert "1 more of theirs waits." in text_of(browser)
    browser.post(f"/alerts/{episode}/{entries[2]}/", {"text": "Sat down, talked it through."})
    assert "more of theirs" not in text_of(browser)


def test_the_records_officer_has_no_alerts(enter: Enter) -> None:
    browser = enter(a_records_officer())
    assert browser.get("/alerts/").status_code == 403
    assert "data-tally-news" not in browser.get("/trail/").content.decode()


def test_filters_that_make_no_sense_show_what_waits(enter: Enter) -> None:
    assert "Nothing waits" in text_of(enter(a_lead()), "/alerts/?state=odd&severity=odd&before=yesterday")


def test_the_tally_counts_acts_to_answer_and_how_many_are_critical(enter: Enter) -> None:
    therapist = a_therapist()
    browser = enter(therapist)
    assert browser.get("/alerts/tally/").json()["open"] == 0
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    told = browser.get("/alerts/tally/").json()
    assert (told["open"], told["critical"]) == (1, 0)


def test_whoever_answers_some_and_sees_all_is_told_of_those_critical_ones_that_are_theirs(enter: Enter) -> None:
    both = a_staff(Role.THERAPIST, Role.PROSTHETIST)
    for carrier in (both, a_therapist(), a_therapist()):
        a_skipped_start_check(carrier, an_episode(assigned_to=carrier))
    Alert.objects.update(severity="critical")
    told = enter(both).get("/alerts/tally/").json()
    assert (told["open"], told["mine"], told["critical"]) == (3, 1, 1)


def test_the_tally_of_a_stranger_is_refused_without_a_page(client: Client) -> None:
    answer = client.get("/alerts/tally/")
    assert (answer.status_code, answer.json()["signed_in"]) == (401, False)


def test_a_critical_alert_has_the_telephone_number_which_is_in_the_trail_once_a_day(enter: Enter) -> None:
    therapist, other = a_therapist(), a_therapist()
    episode = an_episode(assigned_to=therapist, person=a_person(phone="0555 0143"))
    recorded(therapist, episode, an_attempt("sit_stand", "none", help="alone", at=ago(minutes=9)))
    assert Alert.objects.filter(severity="critical").exists()
    browser = enter(therapist)
    for _ in range(2):
        assert 'href="tel:0555 0143"' in browser.get("/alerts/").content.decode()
    seen = TrailRow.objects.filter(verb="person.opened", episode=episode.pk)
    assert [(row.actor, row.detail["page"]) for row in seen] == [(therapist, "telephone number in an alert")]
    assert "0555" not in text_of(enter(other))


def test_no_other_alert_shows_a_number_and_an_answered_one_no_more(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist, person=a_person(phone="0555 0143"))
    a_skipped_start_check(therapist, episode)
    browser = enter(therapist)
    assert "0555" not in text_of(browser)
    Alert.objects.update(severity="critical")
    assert "0555" in text_of(browser)
    Alert.objects.update(acknowledged_at=clock.now(), acknowledged_by=therapist)
    assert "0555" not in text_of(browser, "/alerts/?state=answered")


def test_whoever_may_answer_none_reads_that_at_the_top_and_no_number_calls_them(enter: Enter) -> None:
    therapist = a_therapist()
    a_skipped_start_check(therapist, an_episode(assigned_to=therapist))
    bench = enter(a_prosthetist())
    assert "None of these is yours to answer." in text_of(bench)
    told = bench.get("/alerts/tally/").json()
    assert (told["open"], told["mine"]) == (1, 0)
    own = enter(therapist)
    assert "yours to answer" not in text_of(own)
    assert own.get("/alerts/tally/").json()["mine"] == 1


def a_struck(by: Staff, episode: Episode, wrong: dict[str, Any], reason: str = "tapped by mistake") -> None:
    """Something of a session that was struck out."""
    before = [an_entry("session_opened", at=ago(minutes=7)), a_check(at=ago(minutes=6))]
    recorded(by, episode, *before, {**wrong, "at": ago(minutes=5).isoformat()})
    recorded(by, episode, an_entry("struck_out", entry=wrong["id"], reason=reason))


def test_an_alert_about_a_strike_names_what_was_struck_out_and_asks_whoever_did_it_what_they_did(enter: Enter) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    a_struck(therapist, episode, an_attempt("stand_load", result="unsafe"))
    seen = text_of(enter(therapist))
    assert "Struck out: Quiet standing, both hands on the bars, stand by, unsafe, today" in seen
    assert "It was a danger on record: the result was unsafe · tapped by mistake" in seen
    assert "Your reason stands, and is kept: tapped by mistake. Add what you did about it;" in seen
    assert f"What you did about it, for {episode.person.full_name}" in seen
    assert "say why" not in seen
    assert "ask who struck it out" not in seen
    leads = text_of(enter(a_lead()))
    assert "ask who struck it out" in leads
    assert "The reason that was given: tapped by mistake." in leads


@pytest.mark.parametrize(
    ("wrong", "danger"),
    [
        (an_attempt("stand_load", deviations=["bent_hip"]), "a fault was seen, Hip stays bent"),
        (
            an_attempt("stand_load", result="unsafe", deviations=["bent_hip", "hollow_back", "long_steps"]),
            "the result was unsafe; faults were seen, Hip stays bent, Hollow back",
        ),
        (a_check(bad=["skin"]), "a check of which something was not good"),
        (an_entry("mode_checked", mode="walking", ok=False), "the knee was not in the mode that it was checked for"),
    ],
    ids=["a safe attempt with a fault", "an unsafe one with faults", "a check", "a mode"],
)
def test_an_alert_about_a_strike_says_which_danger_it_was_on_the_list_and_where_it_is_answered(
    enter: Enter, wrong: dict[str, Any], danger: str
) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    a_struck(therapist, episode, wrong, "One hand was on the bars, not free.")
    browser, entry = enter(therapist), Alert.objects.get(rule="struck_danger", open=True).entry
    for page in (text_of(browser), text_of(browser, f"/alerts/{episode.pk}/{entry}/")):
        assert f"It was a danger on record: {danger} · One hand was on the bars" in page
        assert "Your reason stands, and is kept: One hand was on the bars, not free. Add what you did" in page
    said = browser.post(f"/alerts/{episode.pk}/{entry}/", {"text": "nothing more"}, follow=True)
    assert f"Answered for {episode.person.full_name}: the alert “Struck out: " in said.content.decode()


def test_news_of_a_request_that_is_answered_since_says_so(enter: Enter) -> None:
    therapist, bench = a_therapist(), a_prosthetist()
    episode = an_episode(assigned_to=therapist)
    request = ask_adjustment(actor=therapist, episode_id=episode.pk, setting="alignment", text="leans")
    about = {"staff": bench, "topic": "request.asked", "severity": "minor", "made_at": clock.now()}
    Notice.objects.create(episode=episode, subject_id=str(request.pk), dedupe_key="one", **about)
    browser = enter(bench)
    assert "answered since" not in text_of(browser)
    decline_request(actor=bench, request_id=request.pk, version=1, reason="as it should be")
    assert "An adjustment is asked for · answered since" in text_of(browser)


def test_nobody_is_told_to_sit_somebody_down_who_stood_there_days_ago(enter: Enter) -> None:
    runa = a_therapist()
    for days, told in ((0, "Do now"), (3, "Then, or else at the next session")):
        episode = an_episode(assigned_to=runa)
        attempt = an_attempt("sit_stand", "none", help="alone", at=ago(days=days, minutes=5), by=runa)
        recorded(runa, episode, attempt)
        page = text_of(enter(runa), f"/alerts/{episode.pk}/{attempt['id']}/")
        assert ("Stop" in page, "Do now" in page, told in page) == (True, days == 0, True)
