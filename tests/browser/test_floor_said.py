"""What the Floor says where the eye is: of a skill, of a fall, of a knee at the end, and when a colleague goes on."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from caseload.models import Episode
from clinic.staff.models import Staff
from clinic.staff.session_models import StaffSession
from tests.browser.conftest import Enter
from tests.browser.floor_hands import Hand, recorded
from tests.makers import a_lead, a_site, ago, an_assistant, an_attempt, an_entry, imported
from tests.makers import recorded as record


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
    expect(hand.page.locator('input[name="during"]')).to_have_count(2)
    expect(hand.page.locator('input[name="during"]:checked')).to_have_count(0)
    hand.tap(hand.key("injury", "none"))
    expect(hand.page.get_by_role("button", name="Choose during what first")).to_be_disabled()


def test_a_fall_names_the_skill_on_the_screen_and_the_injury_is_asked_for(hand: Hand) -> None:
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    hand.skill("stand_load")
    hand.tap(hand.page.get_by_role("button", name="Fall"))
    expect(hand.key("during", "stand_load")).to_be_checked()
    expect(hand.page.get_by_role("button", name="Choose the injury first")).to_be_disabled()


def test_after_a_fall_the_knee_is_proven_again_where_it_is_said(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    head, bends = hand.page.locator(".kneebar"), hand.key("knee-null-bends", "bends")
    hand.tap(hand.page.get_by_role("button", name="Fall"))
    hand.tap(hand.key("injury", "none"))
    hand.tap(hand.page.get_by_role("button", name="Record the fall"))
    expect(head).to_contain_text("before the fall")
    expect(hand.facts.filter(has_text="Putting on").nth(1)).to_contain_text("recorded with the fall")
    hand.tap(hand.page.get_by_role("button", name="Prove again", exact=True))
    expect(bends).to_be_visible()
    hand.set_mode("walking")  # tapped once more: as it was
    expect(bends).to_have_count(0)
    hand.tap(hand.page.get_by_role("button", name="Prove the knee again"))
    hand.prove("bends")
    expect(head).not_to_contain_text("before the fall")
    expect(hand.page.get_by_role("button", name="Prove the knee again")).to_be_hidden()
    expect(hand.page.get_by_role("button", name="I have read this: Fall recorded")).to_be_visible()
    hand.sent()
    assert recorded(ines, "mode_checked")[0]["ok"] is True


def test_against_advice_the_support_is_let_go_and_the_mark_said(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("none")
    expect(hand.page.get_by_role("alert").filter(has_text="Not yet, Quiet standing")).to_be_visible()
    hand.tap(hand.key("despite", "My judgement"))
    hand.result("safe")
    expect(hand.page.locator("#res-hint")).to_contain_text(": safe, not counted. Tap a support first.")
    hand.sent()
    assert len(recorded(ines, "attempt")) == 1
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("button", name="Wrong support"))
    expect(hand.page.locator(".undo-last")).to_be_hidden()
    hand.support("bars_both")
    expect(hand.page.locator(".undo-last")).to_be_hidden()
    hand.sent()


def test_whoever_strikes_a_danger_out_is_not_told_to_ask_themselves(hand: Hand) -> None:
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.result("unsafe")
    hand.sent()
    hand.tap(hand.page.locator(".undo-newest"))
    expect(hand.page.get_by_role("dialog")).to_contain_text("and in Alerts, since it tells of a danger")
    hand.tap(hand.page.get_by_role("button", name="Wrong result"))
    expect(hand.page.locator(".log-alerts")).to_contain_text("You struck out the record of a danger")
    expect(hand.page.locator(".log-alerts")).not_to_contain_text("ask who struck it out")
    hand.sent()


def test_an_attempt_without_a_number_that_the_proof_asks_for_says_so(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    seen = [an_attempt("don_check", "none", at=ago(minutes=19 - n), help="watching") for n in range(2)]
    signed = an_entry("sign_off", skill="don_check", statement="Seen.", at=ago(minutes=15))
    climbed = [
        an_attempt("stand_load", rung, at=ago(minutes=9 - n)) for n, rung in enumerate(("bars_both", "bars_one"))
    ]
    by = {"by": therapist.reference, "role": "therapist"}
    imported(therapist, ines, *({**one, **by} for one in (*seen, signed, *climbed)))
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/"))
    hand.start_check()
    hand.skill("stand_load")
    hand.tap(hand.key("help", "watching"))
    hand.support("none")
    advice = hand.page.locator("[data-floor-advice]")
    expect(advice).to_have_text("Allowed; counts only with: Load share, Held")
    expect(hand.page.locator("#res-hint")).to_have_text(
        "Not measured yet: Load share at least 45 %, Held at least 10 s."
    )
    hand.tap(hand.key("help", "stand_by"))
    expect(advice).to_have_text("Allowed; counts only with: Watching, Load share, Held")
    expect(hand.page.locator(".help-state")).to_have_text(["not counted", "not counted", "", "not now"])
    hand.tap(hand.key("help", "watching"))
    hand.slide(0, 40)
    hand.slide(1, 50)
    expect(advice).to_have_text("Allowed; counts only with: Held")
    expect(hand.page.locator("#res-hint")).to_have_text("Not measured yet: Held at least 10 s.")
    hand.tap(hand.page.get_by_role("button", name="Start: Held"))
    hand.tap(hand.page.get_by_role("button", name="Stop: Held"))
    expect(advice).to_have_text("Allowed; with this the count begins again")
    expect(hand.page.locator("#res-hint")).to_have_text("")


def test_a_suspended_skill_says_why_and_an_attempt_that_is_not_counted_says_so(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    seen = [an_attempt("don_check", "none", at=ago(minutes=9 - n), help="watching") for n in range(2)]
    signed = an_entry("sign_off", skill="don_check", statement="Seen.", at=ago(minutes=5))
    changed = an_entry("setting_changed", setting="socket", to="a new one", at=ago(minutes=4))
    by = {"by": therapist.reference, "role": "therapist"}
    assert {
        one.error for one in imported(therapist, ines, *({**one, **by} for one in (*seen, signed, changed))).verdicts
    } == {None}
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/"))
    hand.start_check()
    expect(hand.page.locator(".tread").filter(has_text="Putting on")).to_contain_text("suspended: socket changed")
    hand.skill("don_check")
    expect(hand.page.locator(".look-why")).to_contain_text("the socket was changed, so it must be proven again")
    hand.skill("stand_load")
    hand.support("bars_both")
    expect(hand.page.locator("[data-floor-advice] .note-good")).to_have_count(0)
    expect(hand.page.locator("[data-floor-advice]")).to_have_text(
        "A step on the way; counts only with: no support, Watching"
    )


def test_what_is_to_be_done_about_a_mark_goes_with_it_when_it_is_struck_out(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("none")
    hand.tap(hand.key("despite", "My judgement"))
    hand.result("stopped")
    alerts = hand.page.locator(".log-alerts")
    expect(alerts).to_contain_text("Support comes off one step at a time")
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("button", name="Wrong support"))
    expect(alerts).not_to_contain_text("Support comes off")
    hand.set_mode("locked")
    expect(hand.facts.first).to_contain_text("Set to locked")
    hand.tap(hand.page.locator(".undo-newest"))
    expect(hand.page.locator("dialog .keys .act")).to_have_text(
        ["Wrong mode", "Tapped by mistake", "Recorded twice", "Wrong person"]
    )
    hand.sent()


def test_the_end_check_asks_for_the_skin_and_a_closed_session_shows_closed(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.tap(hand.page.get_by_role("button", name="Close session"))
    expect(hand.page.get_by_role("heading", name="End check")).to_be_visible()
    expect(hand.page.get_by_role("button", name="Look at the skin first")).to_be_disabled()
    hand.tap(hand.key("end-skin", "bad"))
    expect(hand.page.get_by_role("alert")).to_contain_text("no weight on this socket")
    hand.tap(hand.page.get_by_role("button", name="Yes, proven: close", exact=True))
    closed = hand.page.locator(".startcheck")
    expect(closed.get_by_role("heading", name="Session closed")).to_be_visible()
    expect(closed.get_by_role("link", name="Today")).to_be_visible()
    hand.sent()
    unproven = an_entry("mode_set", mode="walking", at=ago(seconds=-2))  # elsewhere, after the close
    assert record(ines.assignments.get().staff, ines, unproven).verdicts[0].error is None
    hand.page.reload()
    expect(hand.page.locator(".kneebar")).to_contain_text("The knee may still be locked")
    begin = closed.get_by_role("button", name="Begin another session")
    where = begin.bounding_box()
    hand.tap(begin)
    without = hand.page.get_by_role("button", name="Go to the attempts without it").bounding_box()
    assert where
    assert without
    beside = where["x"] >= without["x"] + without["width"] or where["y"] + where["height"] <= without["y"]
    assert beside, "a second tap at the same place leaves no check out"
    expect(closed.get_by_role("heading", name="Start check")).to_be_visible()
    expect(hand.page.locator(".kneebar")).to_contain_text("prove it below, in the start check")
    hand.start_check()
    expect(closed).to_be_hidden()
    hand.sent()


def test_a_step_before_which_something_is_to_be_done_is_taken_up_without_its_support(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    imported(therapist, ines, an_entry("sign_off", skill="don_check", at=ago(days=3), by=therapist))
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/"))
    hand.tap(hand.page.get_by_role("button", name="Go to the attempts without it"))
    hand.tap(hand.page.get_by_role("button", name="Take it up"))
    expect(hand.page.locator('input[name="support"]').first).to_be_focused()
    expect(hand.page.locator('input[name="support"]:checked')).to_have_count(0)


def test_an_assistant_is_told_whose_the_first_attempt_and_the_signature_are(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    hand = Hand(enter(an_assistant(name="Pia Korrin"), f"/floor/{ines.pk}/"))
    expect(hand.page.locator(".strip-staff")).to_contain_text("signs off: Runa Achterling")
    expect(hand.page.locator(".startcheck")).to_contain_text("wait for Runa Achterling")
    hand.start_check()
    expect(hand.page.locator(".held")).to_contain_text("Next, with a therapist: Putting on")
    expect(hand.page.get_by_role("button", name="Take it up")).to_have_count(0)
    expect(hand.page.locator(".tread").filter(has_text="Putting on")).to_contain_text("therapist first")
    expect(hand.page.locator(".tread").filter(has_text="Quiet standing")).to_contain_text("therapist first")
    hand.skill("stand_load")
    expect(hand.page.locator(".rung").first).to_contain_text("therapist first")
    hand.sent()
    record(therapist, ines, an_attempt("don_check", "none"))
    hand.page.reload()
    expect(hand.page.locator(".held .note-yours")).to_contain_text("Putting on, skin and fit, no support, watching")
    expect(hand.page.locator(".tread").filter(has_text="Putting on")).not_to_contain_text("therapist first")
    hand.tap(hand.page.get_by_role("button", name="Take it up"))
    expect(hand.key("support", "none")).to_be_checked()
    expect(hand.key("help", "watching")).to_be_checked()
    hand.result("safe")
    hand.sent()


def test_what_an_assistant_may_repeat_is_among_the_first_keys(enter: Enter, ines: Episode, therapist: Staff) -> None:
    led = {"don_check": "none", "yield_load": "bars_both", "stair_down": "contralateral_rail"}
    imported(therapist, ines, *(an_attempt(skill, rung, by=therapist, at=ago(days=2)) for skill, rung in led.items()))
    hand = Hand(enter(an_assistant(), f"/floor/{ines.pk}/"))
    hand.start_check()
    for skill in led:
        expect(hand.key("skill", skill)).to_be_visible()
    next_ones = hand.page.locator(".tread").filter(has_text="therapist first")
    expect(next_ones.first).to_be_visible()  # what comes next stays in sight


def test_what_an_assistant_went_on_with_is_a_therapists_to_lead_still(
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    """Their own attempt does not lift what stopped it: neither key nor rung says that it may be tried."""
    hand = Hand(enter(an_assistant(), f"/floor/{ines.pk}/"))
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.tap(hand.page.locator('input[name="despite"]').first)
    hand.result("safe")
    hand.sent()
    assert len(recorded(ines, "attempt")) == 1
    expect(hand.page.locator(".tread").filter(has_text="Putting on")).to_contain_text("therapist first · 0 of 3")
    expect(hand.page.locator(".rung").first).to_contain_text("therapist first")
    record(therapist, ines, an_attempt("don_check", "none"))
    hand.page.reload()
    expect(hand.page.locator(".tread").filter(has_text="Putting on")).to_contain_text("training")


def test_the_last_attempt_of_a_stage_says_so(enter: Enter, ines: Episode, therapist: Staff) -> None:
    before = ("don_check", "stand_load", "weight_shift", "hip_drive", "swing_release", "short_steps", "even_walk")
    signs = [an_entry("sign_off", skill=skill, by=therapist, at=ago(days=2)) for skill in before]
    climbed = an_attempt("ramp_up", "contralateral_rail", help="watching", by=therapist)
    up = [climbed | an_entry("attempt", at=ago(days=1, minutes=minutes)) for minutes in (2, 1)]
    imported(therapist, ines, *signs, *up)
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/"))
    hand.start_check()
    hand.skill("ramp_up")
    hand.support("contralateral_rail")
    hand.result("safe")
    expect(hand.page.locator("#res-hint")).to_contain_text("safe. With it stage 1 of 2 is done.")
    expect(hand.page.locator("#h-try")).to_contain_text("stage 2 of 2")
    hand.sent()


def test_whoever_may_not_lead_says_what_has_happened_and_judges_nothing(enter: Enter, ines: Episode) -> None:
    """The rule speaks of who may do it: an assistant is not asked to judge it, and nothing is locked all the same."""
    hand = Hand(enter(an_assistant(), f"/floor/{ines.pk}/"))
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    why = hand.page.locator(".why")
    expect(why).to_contain_text("It has happened already, because")
    expect(why).not_to_contain_text("try anyway")
    expect(why.locator('input[name="despite"]')).to_have_count(2)
    expect(hand.key("despite", "My judgement")).to_have_count(0)
    expect(hand.page.locator("[data-floor-advice]")).to_contain_text("Fetch Runa Achterling.")
    hand.tap(hand.page.get_by_role("button", name="Other reason"))
    hand.page.get_by_label("Another reason").fill("Stood up alone")
    hand.tap(hand.page.get_by_role("button", name="Keep this reason"))
    hand.result("safe")
    hand.sent()
    assert recorded(ines, "attempt")[0]["despite"] == "Stood up alone"


def test_a_skill_that_may_be_tried_in_the_bars_only_says_so(hand: Hand) -> None:
    hand.start_check()
    hand.skill("stand_load")
    expect(hand.page.locator(".tread").filter(has_text="Quiet standing")).to_contain_text("only in the bars")
    expect(hand.page.locator(".rung").first).to_contain_text("next: allowed now")
    hand.tap(hand.key("help", "watching"))
    advice = hand.page.locator("[data-floor-advice]")
    expect(advice).to_contain_text("somebody at hand.Allowed with: Hands on, Stand by")  # before any support is tapped
    hand.support("bars_both")
    expect(hand.page.locator("[data-floor-advice]")).to_contain_text("Allowed here with: Hands on, Stand by")
    expect(hand.page.locator(".help-state")).to_have_text(["", "", "not now", "not now"])
    hand.set_mode("locked")
    expect(hand.page.locator(".help-state")).to_have_text([""] * 4)  # no help would change it
    expect(hand.page.locator(".rung").first).to_contain_text("not now")
    hand.sent()


def test_a_blocked_skill_climbs_in_the_bars_and_what_does_not_count_says_so(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.tap(hand.key("help", "watching"))
    hand.result("safe")
    hand.skill("stand_load")
    hand.support("bars_both")
    expect(hand.page.locator('[data-result="safe"]')).to_have_text("Safe not counted")
    hand.result("safe")
    expect(hand.page.locator("#res-hint")).to_contain_text("safe, not counted.")
    expect(hand.facts.first).to_contain_text("safe · not counted")
    expect(hand.page.locator(".tread").filter(has_text="Quiet standing")).to_contain_text("only in the bars · 0 of")
    expect(hand.page.locator(".rung-state")).to_contain_text([re.compile("^safe .*"), "next: allowed now"])
    hand.sent()
    hand.page.reload()  # it is the core's word, not this page's
    expect(hand.facts.first).to_contain_text("safe · not counted")
    expect(hand.facts.filter(has_text="Putting on")).not_to_contain_text("not counted")
    hand.page.goto(hand.page.url.replace("/floor/", "/people/"))
    expect(hand.page.locator(".ledger li").filter(has_text="Quiet standing")).to_contain_text("safe · not counted")


def test_a_knee_that_was_left_locked_is_proven_where_the_person_stands(hand: Hand, ines: Episode) -> None:
    record(ines.assignments.get().staff, ines, an_entry("mode_set", mode="locked", at=ago(hours=5)))
    hand.page.reload()
    hand.set_mode("walking")
    told = hand.page.locator(".log-alerts")
    expect(told).to_contain_text("The person is here: prove it now, here.")
    expect(hand.page.locator(".kneebar")).to_contain_text("prove it below, in the start check")
    hand.start_check()
    expect(told).to_contain_text("Only its answer under Alerts may be left.")
    expect(told.locator(".note-stop")).to_have_count(0)
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
    enter: Enter, ines: Episode, therapist: Staff
) -> None:
    """Whoever may go on is named: the session is nobody else's to see."""
    here, elsewhere = (
        an_assistant(site=ines.site, name="Pia Ottermere"),
        an_assistant(name="Lorn Quilldale", site=a_site("Birch Hall")),
    )
    a_lead(name="Marit Sandhollow")
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/"))
    hand.start_check()
    hand.tap(hand.page.get_by_role("button", name="Pass on this tablet"))
    dialog = hand.page.get_by_role("dialog")
    expect(dialog).to_contain_text("The session stays open")
    expect(dialog).to_contain_text(f"Who may: Marit Sandhollow and {here.name}.")
    expect(dialog).not_to_contain_text(elsewhere.name)
    hand.tap(hand.page.get_by_role("button", name="Sign out and pass it on"))
    hand.page.wait_for_url(f"**/sign-in/?next=*{ines.pk}*")
    assert len(recorded(ines, "session_opened")) == 1
    assert recorded(ines, "session_closed") == []
    assert not StaffSession.objects.filter(staff=therapist, ended_at__isnull=True).exists()
