"""The Floor in a real browser: what a therapist with one free hand does, and what the record has of it afterwards."""

from __future__ import annotations

from playwright.sync_api import Page, expect

from caseload.models import Episode
from checklists.alerts.models import Alert
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.floor_hands import Hand, recorded
from tests.makers import a_prosthetist, an_assistant, an_episode


def test_the_fourth_tap_of_the_start_check_records_it_and_proves_walking_mode(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.sent()
    opened, check = recorded(ines, "session_opened", "check")
    assert opened["at"] == check["at"]
    assert check["steps"] == {"skin": True, "fit": True, "footwear": True, "mode": True}
    expect(hand.page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Walking")


def test_a_start_check_that_is_not_good_says_what_to_do_and_is_recorded_so(hand: Hand, ines: Episode) -> None:
    hand.start_check(bad=["skin"])
    expect(hand.page.get_by_role("alert")).to_contain_text("no weight on this socket")
    hand.sent()
    assert recorded(ines, "check")[0]["steps"]["skin"] is False


def test_a_common_attempt_is_three_taps_and_a_repeat_is_one(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.taps = 0
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    assert hand.taps == 3
    hand.result("safe")
    hand.sent()
    assert hand.taps == 4
    assert [fact["result"] for fact in recorded(ines, "attempt")] == ["safe", "safe"]


def test_support_and_result_are_never_preset_for_a_new_skill(hand: Hand) -> None:
    hand.start_check()
    hand.skill("don_check")
    expect(hand.page.locator('input[name="support"]:checked')).to_have_count(0)
    expect(hand.page.locator("[data-result=safe]")).to_be_disabled()


def test_support_is_cleared_after_an_unsafe_attempt(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.result("unsafe")
    expect(hand.page.locator('input[name="support"]:checked')).to_have_count(0)


def test_help_stays_as_it_was_last_for_that_skill(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.tap(hand.key("help", "hands_on"))
    hand.support("bars_both")
    hand.result("safe")
    hand.sent()
    hand.skill("don_check")
    hand.skill("stand_load")
    expect(hand.key("help", "hands_on")).to_be_checked()


def test_the_warning_comes_before_the_fact_and_a_reason_opens_the_results(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("even_walk")
    hand.support("none")
    expect(hand.page.get_by_role("alert").filter(has_text="Not yet")).to_contain_text("Do now:")
    expect(hand.page.locator(".advice-warn .also")).to_contain_text("breaks too:")  # a rule, and no finding
    expect(hand.page.locator("[data-result=safe]")).to_be_disabled()
    assert recorded(ines, "attempt") == []
    hand.tap(hand.key("despite", "My judgement"))
    hand.result("stopped")
    hand.sent()
    assert recorded(ines, "attempt")[0]["despite"] == "My judgement"
    assert Alert.objects.filter(episode=ines, rule="prerequisite").exists()
    expect(hand.page.locator(".log-alerts")).to_contain_text("Do now:")
    expect(hand.page.locator(".log-alerts")).to_contain_text("The rule that it broke: ")
    expect(hand.page.locator(".log-alerts")).to_contain_text("It stays under Alerts until it is answered there.")
    expect(hand.page.get_by_role("button", name="I have read this: ").first).to_be_in_viewport(ratio=1)


def test_a_reason_may_be_typed(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("even_walk")
    hand.support("none")
    hand.tap(hand.page.get_by_role("button", name="Other reason"))
    hand.page.get_by_label("Another reason").fill("Fire alarm")
    hand.tap(hand.page.get_by_role("button", name="Keep this reason"))
    hand.result("stopped")
    hand.sent()
    assert recorded(ines, "attempt")[0]["despite"] == "Fire alarm"


def test_from_a_warning_one_tap_leads_back_to_the_allowed_rung(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("none")
    hand.tap(hand.page.get_by_role("button", name="Back to: both hands on the bars"))
    expect(hand.key("support", "bars_both")).to_be_checked()
    expect(hand.page.locator("[data-floor-advice]")).to_contain_text("A step on the way")


def test_no_way_back_is_offered_where_another_rung_would_break_the_same_rule(hand: Hand) -> None:
    hand.start_check()
    hand.set_mode("locked")
    hand.skill("stand_load")
    hand.support("bars_one")
    expect(hand.page.get_by_role("alert").filter(has_text="Not yet")).to_be_visible()
    expect(hand.page.get_by_role("button", name="Back to")).to_have_count(0)


def test_a_lock_cycle_takes_seven_taps_and_each_step_is_its_own(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.taps = 0
    hand.set_mode("locked")
    expect(hand.page.locator(".kneebar-is-set .kneebar-mode")).to_have_text("Locked?")
    hand.prove("straight", "caught", "loaded")
    expect(hand.page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Locked")
    hand.set_mode("walking")
    expect(hand.page.locator(".kneebar-is-set .kneebar-mode")).to_have_text("Walking?")
    hand.prove("released", "bends")
    expect(hand.page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Walking")
    assert hand.taps == 7
    hand.sent()
    names = [fact.get("name", fact.get("mode")) for fact in recorded(ines, "check", "mode_set")]
    assert names == ["start_of_session", "locked", "lock_in", "walking", "lock_out"]


def test_a_knee_that_does_not_hold_is_recorded_as_failed_and_stays_in_view(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.set_mode("locked")
    hand.prove("straight")
    hand.tap(hand.page.get_by_role("button", name="It does not"))
    expect(hand.page.locator(".kneebar-is-failed")).to_contain_text("and not so")
    hand.sent()
    assert recorded(ines, "check")[-1]["steps"] == {"straight": True, "caught": False}


def test_free_swing_asks_where_the_person_is_and_then_keeps_them_seated(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.set_mode("free_swing")
    hand.tap(hand.page.get_by_role("button", name="In the bars, both hands"))
    expect(hand.page.get_by_role("heading", name="Seated only")).to_be_visible()
    hand.sent()
    assert recorded(ines, "mode_set")[0]["support"] == "bars_both"


def test_striking_out_takes_two_taps_and_the_line_stays(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    hand.sent()
    hand.taps = 0
    hand.tap(hand.page.locator(".undo-newest"))
    expect(hand.page.get_by_role("button", name="Wrong person")).to_be_in_viewport(ratio=1)
    hand.tap(hand.page.get_by_role("dialog").get_by_role("button", name="Wrong result"))
    assert hand.taps == 2
    expect(hand.page.locator(".ledger .struck")).to_contain_text("Wrong result")
    hand.sent()
    assert recorded(ines, "struck_out")[0]["reason"] == "Wrong result"


def test_after_a_wrong_result_the_right_one_is_one_tap(hand: Hand, ines: Episode) -> None:
    """Only the result was wrong: support, help, fault and reading stand there again."""
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.tap(hand.page.locator('input[name="seen"]').first)
    hand.result("stopped")
    hand.sent()
    expect(hand.key("support", "bars_both")).not_to_be_checked()
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("dialog").get_by_role("button", name="Wrong result"))
    expect(hand.key("support", "bars_both")).to_be_checked()
    expect(hand.page.locator('input[name="seen"]').first).to_be_checked()
    hand.result("safe")
    hand.sent()
    first, second = recorded(ines, "attempt")
    assert {**first, "result": "safe"} | {"id": "", "at": ""} == second | {"id": "", "at": ""}
    hand.tap(hand.page.locator('input[name="seen"]').nth(1))  # seen since: it is not put aside for what was struck out
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("dialog").get_by_role("button", name="Wrong result"))
    expect(hand.page.locator('input[name="seen"]').first).not_to_be_checked()
    expect(hand.page.locator('input[name="seen"]').nth(1)).to_be_checked()


def test_a_fall_that_ended_an_attempt_makes_it_unsafe_at_the_same_instant(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.tap(hand.page.get_by_role("button", name="Fall"))
    hand.tap(hand.key("injury", "none"))
    hand.tap(hand.page.get_by_role("button", name="Record the fall"))
    hand.sent()
    attempt, fall = recorded(ines, "attempt", "fall")
    assert (attempt["result"], fall["skill"]) == ("unsafe", "stand_load")
    assert attempt["at"] == fall["at"]
    expect(hand.facts.first).to_contain_text("Fall")
    expect(hand.facts.first).to_be_in_viewport(ratio=1)
    follows = hand.page.get_by_role("status").filter(has_text="reviewed within 4 days")
    expect(follows).to_be_in_viewport(ratio=1)
    expect(follows).to_contain_text(
        "Quiet standing and all that builds on it: Have the fall reviewed and cleared first"
    )
    expect(follows).to_contain_text("until it is looked at, only in the bars with somebody at hand")
    expect(follows).to_contain_text("Other skills are not held back by it.")
    expect(follows).to_contain_text("Look the knee over and prove it again")
    expect(follows.get_by_role("link", name="Fall review")).to_have_attribute("href", f"/people/{ines.pk}/")
    follows.get_by_role("button", name="I have read this: Fall recorded").click()
    expect(follows).to_have_count(0)


def test_a_near_miss_is_two_taps(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.tap(hand.page.get_by_role("button", name="Near miss"))
    hand.tap(hand.page.get_by_role("button", name="Record the near miss"))
    hand.sent()
    assert len(recorded(ines, "near_miss")) == 1


def test_closing_asks_once_more_whether_walking_mode_is_proven(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.taps = 0
    hand.tap(hand.page.get_by_role("button", name="Close session"))
    hand.tap(hand.key("end-skin", "good"))
    hand.tap(hand.page.get_by_role("button", name="Yes, proven"))
    assert hand.taps == 3
    hand.sent()
    check, closed = recorded(ines)[-2:]
    assert (check["steps"], closed["kind"]) == ({"mode": True, "skin": True}, "session_closed")


def test_a_knee_not_proven_at_the_end_does_not_close_the_session(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.tap(hand.page.get_by_role("button", name="Close session"))
    hand.tap(hand.page.get_by_role("button", name="No", exact=True))
    expect(hand.page.locator(".kneebar-is-failed")).to_be_visible()
    hand.sent()
    assert recorded(ines, "session_closed") == []


def test_numbers_from_two_scales_are_tapped_in_and_recorded_as_the_load_share(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.tap(hand.page.get_by_role("button", name="Key in: two scales"))
    for sign in ("3", "6"):
        hand.tap(hand.page.get_by_role("button", name=sign, exact=True))
    hand.tap(hand.page.get_by_role("button", name="Next: Other foot, kg"))
    for sign in ("4", "4"):
        hand.tap(hand.page.get_by_role("button", name=sign, exact=True))
    hand.tap(hand.page.get_by_role("button", name="Take it"))
    hand.result("safe")
    hand.sent()
    assert recorded(ines, "attempt")[0]["measures"] == {"load_share": 45}


def test_the_stopwatch_gives_the_seconds_held(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.tap(hand.page.get_by_role("button", name="Start: Held", exact=True))
    hand.page.wait_for_timeout(1200)
    hand.tap(hand.page.get_by_role("button", name="Stop: Held", exact=True))
    hand.result("safe")
    hand.sent()
    assert 1.0 <= recorded(ines, "attempt")[0]["measures"]["held_s"] <= 3.0


def test_steps_are_counted_by_taps(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("short_steps")
    for key in ("+5", "+5", "+1"):
        hand.tap(hand.page.get_by_role("button", name=f"Steps {key}", exact=True))
    hand.support("bars_both")
    hand.result("safe")
    hand.sent()
    assert recorded(ines, "attempt")[0]["measures"] == {"steps": 11}


def test_what_was_seen_is_recorded_and_does_not_stay_for_the_next_attempt(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.tap(hand.key("seen", "hollow_back"))
    hand.tap(hand.page.get_by_role("button", name="Other things seen"))
    hand.tap(hand.page.get_by_role("button", name="Too fast"))
    hand.result("safe")
    hand.result("safe")
    hand.sent()
    assert [fact["deviations"] for fact in recorded(ines, "attempt")] == [["hollow_back", "too_fast"], []]


def test_two_prostheses_have_two_knees_on_the_bar_and_every_fact_names_its_own(enter: Enter, therapist: Staff) -> None:
    nadia = an_episode(assigned_to=therapist, side="both")
    hand = Hand(enter(therapist, f"/floor/{nadia.pk}/"))
    expect(hand.page.locator(".kneebar")).to_have_count(2)
    hand.start_check()
    hand.set_mode("locked", knee="right")
    hand.prove("straight", "caught", "loaded")
    hand.sent()
    assert [fact["knee"] for fact in recorded(nadia, "mode_set", "check") if "knee" in fact] == ["right", "right"]
    expect(hand.page.get_by_role("region", name="Left knee")).to_contain_text("Walking")


def test_both_words_for_a_rail_stand_on_its_key(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stair_up")
    expect(hand.page.locator(".rung").first).to_contain_text("Contralateral rail")
    expect(hand.page.locator(".rung").first).to_contain_text("right hand")


def test_a_prosthetist_has_the_knee_on_the_floor_and_no_attempts(enter: Enter, ines: Episode) -> None:
    hand = Hand(enter(a_prosthetist(), f"/floor/{ines.pk}/"))
    hand.set_mode("locked")
    hand.prove("straight", "caught", "loaded")
    hand.sent()
    assert [fact["kind"] for fact in recorded(ines)[1:]] == ["mode_set", "check"]
    expect(hand.page.locator(".plan")).to_be_hidden()


def test_an_assistant_is_warned_before_a_skill_that_was_never_tried(enter: Enter, ines: Episode) -> None:
    hand = Hand(enter(an_assistant(), f"/floor/{ines.pk}/"))
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    expect(hand.page.get_by_role("alert")).to_contain_text("An assistant starts nothing new")


def test_a_whole_session_takes_no_more_taps_than_promised(hand: Hand, ines: Episode) -> None:
    """25 with two skills: open 1, start check 4, lock cycle 7, six attempts 10, close 3."""
    hand.taps = 1  # opening the Floor from Today
    hand.start_check()
    hand.set_mode("locked")
    hand.prove("straight", "caught", "loaded")
    hand.set_mode("walking")
    hand.prove("released", "bends")
    for skill, support in (("sit_stand", "bars_both"), ("stand_load", "bars_both")):
        hand.skill(skill)
        hand.support(support)
        for _ in range(3):
            hand.result("safe")
    hand.tap(hand.page.get_by_role("button", name="Close session"))
    hand.tap(hand.key("end-skin", "good"))
    hand.tap(hand.page.get_by_role("button", name="Yes, proven"))
    hand.sent()
    assert hand.taps == 25
    assert len(recorded(ines, "attempt")) == 6
    assert not Alert.objects.filter(episode=ines).exists()


def test_in_portrait_the_facts_of_the_session_stay_in_reach(enter: Enter, therapist: Staff, ines: Episode) -> None:
    """Once a skill is chosen the others fold away, and the newest fact stands on the first screen; however many there
    are, the page itself is no taller than the screen."""
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/", size="tablet upright"))
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.result("safe")
    hand.sent()
    expect(hand.facts.first).to_contain_text("Quiet standing")
    assert hand.page.evaluate("document.querySelector('.ledger > li').getBoundingClientRect().top + 60") < 1280
    for _ in range(11):
        hand.result("safe")
    expect(hand.facts).to_have_count(14)
    assert hand.page.evaluate("document.documentElement.scrollHeight - innerHeight") == 0


def test_nothing_scrolls_at_tablet_size_while_an_attempt_is_recorded(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    for result in ("safe", "unsafe", "stopped"):
        assert _wholly_in_view(hand.page, f'[data-result="{result}"]')


def _wholly_in_view(page: Page, selector: str) -> bool:
    box = page.locator(selector).bounding_box()
    return box is not None and box["y"] >= 0 and box["y"] + box["height"] <= 800
