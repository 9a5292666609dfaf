"""Nothing that was tapped is lost or lands on the wrong person: failed sends, ended sessions, a shared tablet."""

from __future__ import annotations

import re

import pytest
from django.contrib.sessions.models import Session
from playwright.sync_api import Page, Route, expect

from caseload.models import Episode
from checklists.models import RefusedEntry
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from tests.browser.conftest import Enter, sign_in
from tests.browser.floor_hands import Hand, recorded, send_now
from tests.browser.looking import barriers
from tests.makers import a_person, a_therapist, ago, an_entry, an_episode
from tests.makers import recorded as record

pytestmark = pytest.mark.cut_off
ENTRIES = "**/api/v1/episodes/*/entries/"


@pytest.fixture
def corin(therapist: Staff) -> Episode:
    return an_episode(assigned_to=therapist, person=a_person(given_name="Corin", family_name="Ashgrove"))


def cut(page: Page) -> None:
    """The server takes nothing any more, though it says nothing."""
    page.route(ENTRIES, lambda route: route.fulfill(status=503, body="{}", content_type="application/json"))


def mended(page: Page) -> None:
    page.unroute(ENTRIES)


def net(page: Page) -> str:
    return page.locator("[data-floor-net]").inner_text()


def test_a_failed_send_is_shown_kept_and_sent_again_once(hand: Hand, ines: Episode) -> None:
    cut(hand.page)
    hand.start_check()
    expect(hand.page.locator("[data-floor-net]")).to_contain_text("2 not sent · kept on this tablet")
    assert recorded(ines, "check") == []
    mended(hand.page)
    send_now(hand.page)
    hand.sent()
    assert len(recorded(ines, "check")) == 1


def test_what_waits_takes_nothing_from_whose_floor_it_is(hand: Hand) -> None:
    """Both identifiers, the day of birth and the side stand there whole, upright too."""
    hand.page.set_viewport_size({"width": 800, "height": 1280})
    cut(hand.page)
    hand.start_check()
    expect(hand.page.locator(".net-wait")).to_be_visible()
    who = hand.page.locator(".strip-who span").first
    expect(who).to_contain_text("prosthesis")
    assert who.evaluate("(words) => words.scrollHeight - words.clientHeight") < 5, "not a line is cut off"


def test_it_is_tried_again_without_anybody_tapping(hand: Hand, ines: Episode) -> None:
    cut(hand.page)
    hand.start_check()
    expect(hand.page.locator("[data-floor-net]")).to_contain_text("not sent")
    mended(hand.page)
    hand.sent()
    assert len(recorded(ines, "check")) == 1


def test_what_is_not_sent_survives_a_reload(hand: Hand, ines: Episode) -> None:
    cut(hand.page)
    hand.start_check()
    expect(hand.page.locator("[data-floor-net]")).to_contain_text("2 not sent")
    hand.page.reload()
    expect(hand.page.locator("[data-floor-net]")).to_contain_text("2 not sent")
    expect(hand.facts.filter(has_text="Start check: good")).to_be_visible()
    mended(hand.page)
    hand.sent()
    assert len(recorded(ines, "check")) == 1


def test_an_answer_that_got_lost_does_not_record_the_fact_twice(hand: Hand, ines: Episode) -> None:
    def lose_the_answer(route: Route) -> None:
        route.fetch()
        route.abort()

    hand.page.route(ENTRIES, lose_the_answer, times=1)
    hand.start_check()
    hand.sent()
    assert len(recorded(ines, "session_opened")) == 1
    assert len(recorded(ines, "check")) == 1


def test_the_knee_bar_follows_the_taps_though_nothing_is_sent(hand: Hand) -> None:
    cut(hand.page)
    hand.start_check()
    hand.set_mode("locked")
    expect(hand.page.locator(".kneebar-is-set .kneebar-mode")).to_have_text("Locked?")
    hand.prove("straight", "caught", "loaded")
    expect(hand.page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Locked")


def without_record_and_advice(page: Page, episode: Episode) -> Hand:
    """The page came, and then neither the record for this device nor the server's own advice."""
    gone = re.compile("/(pack|advice)/")
    page.route(gone, lambda route: route.fulfill(status=503, body="{}", content_type="application/json"))
    page.goto(f"/floor/{episode.pk}/")
    return Hand(page)


def test_without_advice_the_page_says_so_and_does_not_lock_anybody_out(
    enter: Enter, therapist: Staff, ines: Episode
) -> None:
    hand = without_record_and_advice(enter(therapist), ines)
    hand.start_check()
    hand.sent()
    hand.skill("stand_load")
    hand.support("bars_both")
    expect(hand.page.get_by_role("alert")).to_contain_text("No advice")
    hand.result("safe")
    hand.sent()
    assert len(recorded(ines, "attempt")) == 1


def test_without_the_record_a_knee_that_was_set_here_is_not_guessed_at(
    enter: Enter, therapist: Staff, ines: Episode
) -> None:
    hand = without_record_and_advice(enter(therapist), ines)
    hand.start_check()
    hand.sent()
    expect(hand.page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Walking")
    cut(hand.page)
    hand.set_mode("locked")
    expect(hand.page.locator(".kneebar-mode")).to_have_text("Not known yet")
    mended(hand.page)
    send_now(hand.page)
    expect(hand.page.locator(".kneebar-is-set .kneebar-mode")).to_have_text("Locked?")


def left_locked(episode: Episode) -> None:
    """Nobody set it back: over an hour ago, the rule was broken."""
    record(episode.assignments.get().staff, episode, an_entry("mode_set", mode="locked", at=ago(hours=5)))


def test_what_the_server_says_of_a_broken_rule_is_shown_whichever_fact_it_is_about(
    enter: Enter, therapist: Staff, ines: Episode
) -> None:
    left_locked(ines)
    hand = without_record_and_advice(enter(therapist), ines)
    hand.set_mode("walking")  # the rule was broken by the fact before it
    expect(hand.page.locator(".log-alerts")).to_contain_text("prove it now, here")
    hand.sent()


def test_a_tap_before_the_record_is_there_is_judged_when_it_is(enter: Enter, therapist: Staff, ines: Episode) -> None:
    left_locked(ines)
    page, held = enter(therapist), []
    page.route("**/pack/**", lambda route: held.append(route))
    cut(page)
    page.goto(f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.set_mode("walking")
    expect(page.locator(".kneebar-mode")).to_have_text("Not known yet")
    expect(page.locator(".log-alerts")).to_be_empty()
    held.pop().continue_()
    expect(page.locator(".log-alerts")).to_contain_text("prove it now, here")
    mended(page)
    send_now(page)
    hand.sent()


def test_a_session_that_ended_drops_nothing_and_asks_to_sign_in(hand: Hand, ines: Episode, therapist: Staff) -> None:
    Session.objects.all().delete()
    hand.start_check()
    expect(hand.page.get_by_role("link", name="Sign in again to send")).to_be_visible()
    assert "2 not sent" in net(hand.page)
    sign_in(hand.page, therapist)
    hand.page.goto(f"/floor/{ines.pk}/")
    hand.sent()
    assert len(recorded(ines, "check")) == 1


def test_facts_of_a_colleague_wait_for_that_colleague(hand: Hand, ines: Episode, therapist: Staff) -> None:
    """The server records a fact under the name of who sends it: a colleague passes on what is sealed, and its author
    records it."""
    cut(hand.page)
    hand.start_check()
    expect(hand.page.locator("[data-floor-net]")).to_contain_text("2 not sent")
    other = a_therapist(name="Jorun Wexthorn")
    hand.page.context.clear_cookies()
    mended(hand.page)
    with hand.page.expect_response("**/api/v1/sealed/") as passed:
        sign_in(hand.page, other)
    assert [one["outcome"] for one in passed.value.json()["verdicts"]] == ["kept", "kept"]
    expect(hand.page.locator(".before")).to_have_count(0)  # nothing waits for the colleague
    assert recorded(ines, "check") == []
    hand.page.context.clear_cookies()
    sign_in(hand.page, therapist)
    expect(hand.page.locator(".before")).to_contain_text("2 marks wait for you")
    hand.page.get_by_role("link", name="Look at them").click()
    expect(hand.page.get_by_role("main")).to_contain_text("brought by Jorun Wexthorn")
    assert barriers(hand.page) == []
    for tick in hand.page.get_by_role("checkbox").all():
        tick.check()
    hand.page.get_by_role("button", name="Record what is ticked under my name").click()
    expect(hand.page.get_by_role("main")).to_contain_text("Nothing waits for you")
    [check] = recorded(ines, "check")
    assert check["by"] == therapist.reference


def test_facts_of_the_last_person_are_sent_from_the_page_of_the_next(hand: Hand, ines: Episode, corin: Episode) -> None:
    cut(hand.page)
    hand.start_check()
    expect(hand.page.locator("[data-floor-net]")).to_contain_text("2 not sent")
    mended(hand.page)
    hand.page.goto(f"/floor/{corin.pk}/")
    hand.page.get_by_role("button", name="Yes, this is Corin Ashgrove").click()
    hand.sent()
    assert len(recorded(ines, "check")) == 1
    assert recorded(corin, "check") == []


def test_what_the_server_refuses_stays_until_it_is_mended_or_dropped(hand: Hand, ines: Episode) -> None:
    """A tablet whose clock is a day ahead of every answer: the server takes no fact from the future."""
    hand.page.route(ENTRIES, _in_the_future)
    hand.start_check()
    refused = hand.facts.filter(has_text="Not taken")
    expect(refused).to_have_count(2)
    expect(refused.first).to_contain_text("at:")
    hand.page.unroute(ENTRIES, _in_the_future)
    hand.page.reload()
    expect(refused).to_have_count(2)
    assert recorded(ines, "check") == []
    ids = {fact.get_attribute("data-fact") for fact in refused.all()}
    hand.tap(refused.filter(has_text="Start check").get_by_role("button", name="Correct it"))
    hand.tap(hand.page.get_by_role("button", name="Record it"))
    expect(refused).to_have_count(1)
    hand.tap(refused.get_by_role("button", name="Drop it"))
    dialog = hand.page.get_by_role("dialog")
    expect(dialog.get_by_role("button", name="Choose the reason first")).to_be_disabled()
    dialog.get_by_role("radio").first.check(force=True)
    hand.tap(dialog.get_by_role("button", name="Drop it for good"))
    expect(refused).to_have_count(0)
    hand.sent()
    [check] = recorded(ines, "check")
    assert check["id"] not in ids
    said = TrailRow.objects.filter(verb="entry.settled").values_list("detail", flat=True)
    assert len(said) == 2
    assert any(check["id"] in str(detail) for detail in said)
    assert {str(again) for again in RefusedEntry.objects.values_list("again_as", flat=True)} == {check["id"], "None"}


def _in_the_future(route: Route) -> None:
    route.continue_(post_data=(route.request.post_data or "").replace('"at":"2', '"at":"3'))


def test_two_identifiers_stand_on_the_floor(hand: Hand, ines: Episode) -> None:
    strip = hand.page.locator(".strip-who")
    for identifier in (ines.person.number, ines.person.second_identifier, "Ines Vartholm"):
        expect(strip).to_contain_text(identifier)


def test_a_switch_of_person_is_guarded(hand: Hand, corin: Episode) -> None:
    hand.page.goto(f"/floor/{corin.pk}/")
    guard = hand.page.get_by_role("dialog")
    expect(guard).to_contain_text("On this tablet you were with Ines Vartholm")
    expect(guard).to_contain_text(corin.person.second_identifier)
    hand.page.keyboard.press("Escape")
    expect(guard).to_be_visible()
    guard.get_by_role("button", name="Yes, this is Corin Ashgrove").click()
    expect(guard).to_have_count(0)


def test_the_guard_compares_the_second_identifier(hand: Hand, ines: Episode, corin: Episode) -> None:
    hand.page.goto(f"/floor/{corin.pk}/")
    guard = hand.page.get_by_role("dialog")
    typed = guard.get_by_label("Second identifier, typed or scanned")
    typed.fill(ines.person.second_identifier)
    typed.press("Enter")
    expect(guard.get_by_role("alert")).to_contain_text("That is not the identifier of Corin Ashgrove")
    typed.fill(corin.person.second_identifier)
    typed.press("Enter")
    expect(guard).to_have_count(0)


def test_the_same_person_again_is_not_asked_for(hand: Hand) -> None:
    hand.page.reload()
    expect(hand.page.get_by_role("heading", name="Start check: begins")).to_be_visible()
    expect(hand.page.get_by_role("dialog")).to_have_count(0)


def test_recorded_on_the_wrong_person_is_put_right_in_one_act(hand: Hand, ines: Episode, corin: Episode) -> None:
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    hand.sent()
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("dialog").get_by_role("button", name="Wrong person"))
    dialog = hand.page.get_by_role("dialog")
    expect(dialog).to_contain_text(corin.person.second_identifier)
    hand.tap(hand.key("target", str(corin.pk)))
    hand.tap(dialog.get_by_role("button", name="Move to Corin Ashgrove"))
    expect(dialog).to_have_count(0)
    expect(hand.page.locator(".ledger .struck")).to_contain_text("wrong person")
    moved, meant = recorded(corin, "attempt")[0], recorded(ines, "attempt")[0]
    assert (moved["skill"], moved["at"], moved["by"]) == (meant["skill"], meant["at"], meant["by"])


def test_entries_carry_the_sites_offset_and_are_numbered_where_they_tie(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.sent()
    opened, check = recorded(ines, "session_opened", "check")
    assert (opened["seq"], check["seq"]) == (0, 1)
    assert check["at"].endswith(("+00:00", "+01:00"))
