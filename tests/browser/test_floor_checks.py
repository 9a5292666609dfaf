"""What has to be checked first has its way on the Floor: the skill that it is done by, and a word when it is done. What
is somebody else's to do is not asked for."""

from __future__ import annotations

from playwright.sync_api import expect

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.floor_hands import Hand
from tests.makers import a_check, a_prosthetist, ago, an_assistant, an_attempt, an_entry, imported


def test_the_check_after_a_change_is_taken_up_where_it_is_asked_for_and_said_when_it_is_done(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    led = {"yield_load": "bars_both", "ramp_up": "contralateral_rail"}
    shown = [an_attempt(skill, rung, by=therapist, at=ago(days=3)) for skill, rung in led.items()]
    signs = [an_entry("sign_off", skill=skill, by=therapist, at=ago(days=2)) for skill in ("stand_load", "ramp_up")]
    change = an_entry("setting_changed", setting="resistance", to="5", by=a_prosthetist(), at=ago(days=1))
    imported(therapist, ines, *shown, *signs, change)
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/"))
    hand.start_check()
    first = hand.page.locator(".held .note-check").filter(has_text="Check first")
    expect(first).to_contain_text("After the change: “Full weight, knee bending” in the bars")
    hand.tap(first.get_by_role("button", name="Take up: Full weight, knee bending"))
    expect(hand.page.locator("#h-try")).to_contain_text("Full weight, knee bending")
    hand.support("bars_both")
    before = hand.page.locator("[data-result=safe]").bounding_box()
    hand.result("safe")
    done = "No longer under “Check first”: After the change: “Full weight"
    expect(hand.page.locator("#res-hint")).to_contain_text(done)
    hand.sent()
    expect(hand.page.locator("#res-hint")).to_contain_text("No longer under “Check first”")
    assert hand.page.locator("[data-result=safe]").bounding_box() == before, "a repeat is a tap in the same place"
    assert hand.page.locator(".reach").evaluate("(keys) => keys.scrollHeight - keys.clientHeight") <= 0, (
        "help is in sight"
    )
    hand.result("safe")
    expect(hand.page.locator("#res-hint")).not_to_contain_text("No longer under “Check first”")


def test_where_a_skill_is_a_therapists_to_lead_no_support_is_asked_for(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    imported(therapist, ines, an_attempt("don_check", "none", by=therapist, at=ago(days=2)))
    hand = Hand(enter(an_assistant(), f"/floor/{ines.pk}/"))
    hand.start_check()
    hand.skill("stand_load")
    expect(hand.page.locator("[data-floor-advice]")).to_contain_text("Not now")
    expect(hand.page.locator("#res-hint")).to_have_text("")
    expect(hand.page.locator("[data-result=safe]")).to_be_disabled()
    hand.skill("don_check")
    expect(hand.page.locator("#res-hint")).to_have_text("Tap a support first.")


def test_struck_out_is_what_whoever_records_may_record_and_nothing_else_is_offered(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    """The device's own copy would believe a stroke that the server does not take: of a new knee it would say that it is
    the old one, proven."""
    bench = a_prosthetist()
    changed = an_entry("setting_changed", setting="knee", to="Bench knee 4", features=[], at=ago(minutes=9), by=bench)
    check = a_check("end_of_session", at=ago(minutes=12), by=therapist)
    imported(therapist, ines, check, changed)
    offered = {}
    for who in (an_assistant(), bench, therapist):
        hand = Hand(enter(who, f"/floor/{ines.pk}/"))
        facts = {fact["kind"]: hand.page.locator(f"[data-fact='{fact['id']}']") for fact in (check, changed)}
        for line in facts.values():
            expect(line).to_be_visible()
        offered[who.reference] = [kind for kind, line in facts.items() if line.get_by_role("button").count()]
    assert list(offered.values()) == [["check"], ["check", "setting_changed"], ["check"]]


def test_whoever_passed_the_start_check_over_has_a_way_to_it_wherever_it_is_asked_for(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    signs = [an_entry("sign_off", skill=skill, by=therapist, at=ago(days=2)) for skill in ("don_check", "sit_stand")]
    imported(therapist, ines, *signs)
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/"))
    hand.start_check(bad=["skin"])
    hand.tap(hand.page.get_by_role("button", name="Go to the attempts"))
    first = hand.page.locator(".held .note-check").filter(has_text="Check first")
    way = first.get_by_role("button", name="Make the start check")
    hand.tap(way)
    expect(hand.page.locator(".startcheck").get_by_role("heading", name="Start check")).to_be_visible()
    hand.tap(hand.page.get_by_role("button", name="Go to the attempts without it"))
    hand.skill("stand_load")
    hand.support("bars_both")
    warned = hand.page.locator("[data-floor-advice]")
    expect(warned).to_contain_text("start-of-session check")
    hand.tap(warned.get_by_role("button", name="Make the start check"))
    hand.start_check()
    expect(hand.page.locator(".startcheck")).to_be_hidden()
    expect(hand.page.get_by_role("button", name="Make the start check")).to_have_count(0)
    hand.sent()


def test_help_is_in_sight_on_a_low_screen_where_every_skill_takes_three_lines(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    keys = hand.page.locator(".plan-list .tread small")
    keys.evaluate_all("(all) => all.forEach((one) => { one.textContent = 'suspended: resistance changed · 0 of 5'; })")
    supports = hand.page.locator(".rung small")
    supports.evaluate_all("(all) => all.forEach((one) => { one.textContent = 'safe 27 Sep, R.A.: once more'; })")
    assert hand.page.locator(".reach").evaluate("(keys) => keys.scrollHeight - keys.clientHeight") <= 0
