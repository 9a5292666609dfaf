"""What has to be checked first has its way on the Floor: the skill that it is done by, and a word when it is done. What
is somebody else's to do is not asked for."""

from __future__ import annotations

from playwright.sync_api import expect

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.floor_hands import Hand
from tests.makers import a_prosthetist, ago, an_assistant, an_attempt, an_entry, imported


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
    hand.result("safe")
    done = "No longer under “Check first”: After the change: “Full weight"
    expect(hand.page.locator("#res-hint")).to_contain_text(done)
    hand.sent()
    expect(hand.page.locator("#res-hint")).to_contain_text("No longer under “Check first”")
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
