"""What the Floor says where the eye is: of a skill, of a fall, of a knee at the end, and when a colleague goes on."""

from __future__ import annotations

from playwright.sync_api import expect

from caseload.models import Episode
from clinic.staff.models import Staff
from clinic.staff.session_models import StaffSession
from tests.browser.floor_hands import Hand, recorded


def test_a_fall_is_not_put_down_to_an_attempt_that_was_struck_out(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.result("safe")
    hand.sent()
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("button", name="Wrong skill"))
    hand.sent()
    hand.tap(hand.page.get_by_role("button", name="Fall"))
    expect(hand.page.get_by_role("radio", name="During: not during an attempt")).to_be_checked()


def test_a_skill_that_may_be_tried_in_the_bars_only_says_so(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    expect(hand.page.locator(".tread").filter(has_text="Quiet standing")).to_contain_text("only in the bars")
    expect(hand.page.locator(".rung").first).to_contain_text("next: allowed now")
    hand.set_mode("locked")
    expect(hand.page.locator(".rung").first).to_contain_text("not now")
    hand.sent()


def test_closing_with_a_knee_that_is_locked_says_so_and_proof_is_not_the_heavy_key(hand: Hand) -> None:
    expect(hand.page.locator("#h-log")).to_contain_text("opens with the start check")
    hand.start_check()
    hand.set_mode("locked")
    hand.tap(hand.page.get_by_role("button", name="Close session"))
    dialog = hand.page.get_by_role("dialog")
    expect(dialog).to_contain_text("The knee is set to Locked, and not proven")
    expect(dialog.locator(".act-main")).to_have_count(0)
    hand.sent()


def test_a_session_is_handed_over_on_ones_own_sign_in_and_stays_open(
    hand: Hand, ines: Episode, therapist: Staff
) -> None:
    hand.start_check()
    hand.tap(hand.page.get_by_role("button", name="Hand over"))
    expect(hand.page.get_by_role("dialog")).to_contain_text("The session stays open")
    hand.tap(hand.page.get_by_role("button", name="Sign out and hand over"))
    hand.page.wait_for_url(f"**/sign-in/?next=*{ines.pk}*")
    assert len(recorded(ines, "session_opened")) == 1
    assert recorded(ines, "session_closed") == []
    assert not StaffSession.objects.filter(staff=therapist, ended_at__isnull=True).exists()
