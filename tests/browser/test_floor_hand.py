"""The Floor in one hand: what every control measures, how it is called and how it looks, in every state of the page."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from caseload.models import Episode, Weight
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.floor_hands import Hand, recorded
from tests.browser.floor_names import faults_of_names
from tests.browser.floor_shapes import faint, measured
from tests.browser.floor_states import states
from tests.makers import a_therapist, an_episode


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    return an_episode(assigned_to=therapist)


@pytest.fixture
def hand(enter: Enter, therapist: Staff, ines: Episode) -> Hand:
    return Hand(enter(therapist, f"/floor/{ines.pk}/"))


def test_in_every_state_every_control_can_be_hit_and_has_a_name_of_its_own(hand: Hand) -> None:
    """48 pixels or more, nothing over another or beyond the edge, what is tapped often within the thumb's reach; a name
    that says out of context what it does; words that stand out 7 to 1 in light and in dark."""
    found = []
    for state in states(hand):
        found += measured(hand.page, state)
        found += faults_of_names(hand.page, state)
        found += faint(hand.page, state)
    assert not found, "\n".join(found)


PROMISED = 34
WATCH = (Path(__file__).parent / "floor_watch.js").read_text()


def _until(page: Page, condition: str) -> None:
    """Look until it is so; by a function of the page's own, since its policy lets no text be run."""
    look = f"const look = () => ({condition} ? resolve(true) : performance.now() < until && setTimeout(look, 20));"
    asked = f"() => new Promise((resolve) => {{ const until = performance.now() + 5000; {look} look(); }})"
    page.evaluate(f"() => Promise.race([({asked})(), new Promise((resolve) => setTimeout(resolve, 5100, false))])")
    assert page.evaluate(condition)


def test_a_whole_session_takes_34_taps_at_most_and_no_typing(enter: Enter, therapist: Staff, ines: Episode) -> None:
    """Start check, lock cycle proven both ways, six attempts on three skills, a deviation, a load share, end check."""
    page = enter(therapist)
    page.goto("/")
    hand = Hand(page)
    page.goto(f"/floor/{ines.pk}/")
    hand.taps = 1  # a person on Today
    page.evaluate(WATCH + "watch.typing()")
    hand.start_check()
    hand.set_mode("locked")
    hand.prove("straight", "caught", "loaded")
    hand.set_mode("walking")
    hand.prove("released", "bends")
    for skill, rung in (("don_check", "none"), ("sit_stand", "bars_both"), ("stand_load", "bars_both")):
        hand.skill(skill)
        hand.support(rung)
        if skill == "stand_load":
            hand.tap(hand.key("seen", "hollow_back"))
            hand.slide(0, 50)
            hand.slide(1, 50)
        hand.result("safe")
        hand.result("safe")
    hand.tap(page.get_by_role("button", name="Close session"))
    hand.tap(hand.key("end-skin", "good"))
    hand.tap(page.get_by_role("button", name="Yes, proven"))
    hand.sent()
    print(f"taps of a whole session: {hand.taps} of {PROMISED}")
    assert hand.taps <= PROMISED
    assert page.evaluate("watch.typed") == []
    attempts = recorded(ines, "attempt")
    assert (len(attempts), len({fact["skill"] for fact in attempts})) == (6, 3)
    assert attempts[4]["deviations"] == ["hollow_back"]
    assert attempts[4]["measures"]["load_share"] == pytest.approx(50, abs=1)
    assert [fact["name"] for fact in recorded(ines, "check")] == [
        "start_of_session", "lock_in", "lock_out", "end_of_session",
    ]  # fmt: skip  # one line a list


def test_zero_kilograms_are_a_reading_and_keys_take_it_without_a_keyboard(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.page.evaluate(WATCH + "watch.typing()")
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.tap(hand.page.get_by_role("button", name="Key in: two scales"))
    hand.tap(hand.page.get_by_role("button", name="0", exact=True))
    hand.tap(hand.page.get_by_role("button", name="Next: Other foot, kg"))
    for sign in ("7", "4"):
        hand.tap(hand.page.get_by_role("button", name=sign, exact=True))
    hand.tap(hand.page.get_by_role("button", name="Take it"))
    assert hand.page.evaluate("watch.typed") == []
    hand.result("safe")
    hand.sent()
    assert recorded(ines, "attempt")[0]["measures"] == {"load_share": 0}
    scales = hand.page.get_by_role("group", name="Load share").locator(".scale-kg")
    expect(scales).to_have_text(["–", "–"])
    hand.tap(hand.page.locator(".undo-newest"))
    hand.tap(hand.page.get_by_role("dialog").get_by_role("button", name="Wrong result"))
    expect(scales).to_have_text(["0.0", "74.0"])  # what the share was read from stands there again with it


def test_where_the_weight_is_known_one_slider_tells_the_share(enter: Enter, therapist: Staff, ines: Episode) -> None:
    Weight.objects.create(person=ines.person, kg="80.0", measured_on=date(2026, 11, 2))
    hand = Hand(enter(therapist, f"/floor/{ines.pk}/"))
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.slide(0, 50)  # where it stands: half of what the person weighs
    expect(hand.page.get_by_role("group", name="Load share")).to_contain_text("50 %")
    hand.result("safe")
    hand.sent()
    assert recorded(ines, "attempt")[0]["measures"] == {"load_share": 50}


def test_a_result_that_is_tapped_while_the_stopwatch_runs_takes_its_time(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("stand_load")
    hand.support("bars_both")
    hand.page.evaluate(WATCH + "watch.drawing()")
    hand.tap(hand.page.get_by_role("button", name="Start: Held"))
    hand.page.evaluate("watch.drawn = 0")
    hand.page.wait_for_timeout(1_000)
    assert hand.page.evaluate("watch.drawn") == 0, "a running stopwatch draws something besides its own figures"
    hand.tap(hand.page.get_by_role("button", name="Lap: Held"))
    hand.result("safe")
    hand.sent()
    assert 1.0 <= recorded(ines, "attempt")[0]["measures"]["held_s"] <= 5.0


def test_a_counter_steps_back_and_keeps_laps(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("short_steps")
    for name in ("Steps +5", "Steps +5", "Lap: Steps", "Steps +5", "Steps −1"):
        hand.tap(hand.page.get_by_role("button", name=name, exact=True))
    hand.tap(hand.page.get_by_role("button", name="Lap: Steps"))
    expect(hand.page.get_by_role("group", name="Steps")).to_contain_text("2 laps: 10 · 4")
    hand.support("bars_both")
    hand.result("safe")
    hand.sent()
    assert recorded(ines, "attempt")[0]["measures"] == {"steps": 14}


def test_undo_is_two_taps_in_the_thumbs_reach(hand: Hand, ines: Episode) -> None:
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    hand.result("safe")
    hand.taps = 0
    hand.tap(hand.page.get_by_role("button", name="Undo Putting on"))
    hand.tap(hand.page.get_by_role("button", name="Wrong result"))
    assert hand.taps == 2
    expect(hand.page.locator(".ledger .struck")).to_contain_text("Wrong result")  # recorded once the question is gone
    hand.sent()
    assert recorded(ines, "struck_out")[0]["entry"] == recorded(ines, "attempt")[0]["id"]


def test_the_hand_is_chosen_for_oneself_and_stays_on_the_device(hand: Hand, ines: Episode, enter: Enter) -> None:
    page = hand.page
    hand.start_check()
    page.get_by_role("button", name="Right hand").click()
    page.get_by_role("radio", name="Left hand").check()
    page.get_by_role("button", name="Done").click()
    box = page.locator(".plan-list").bounding_box()
    assert box is not None
    assert box["x"] < 100
    page.reload()
    expect(page.locator("body")).to_have_attribute("data-keys", "start")
    kept = page.evaluate("JSON.parse(localStorage.getItem('floor.likes'))")
    assert list(kept) == [ines.assignments.get().staff.reference]


def test_the_screen_stays_on_while_a_session_is_open(enter: Enter, therapist: Staff, ines: Episode) -> None:
    page = enter(therapist)
    page.add_init_script(WATCH + "watch.device()")
    page.goto(f"/floor/{ines.pk}/")
    hand = Hand(page)
    assert page.evaluate("watch.locks") == 0
    hand.start_check()
    _until(page, "watch.locks === 1")
    page.evaluate("() => { watch.lock.release(); document.dispatchEvent(new Event('visibilitychange')); }")
    _until(page, "watch.locks === 2")
    hand.tap(page.get_by_role("button", name="Close session"))
    hand.tap(hand.key("end-skin", "good"))
    hand.tap(page.get_by_role("button", name="Yes, proven"))
    _until(page, "watch.released === 2")
    assert page.request.get(f"/floor/{ines.pk}/").headers["permissions-policy"].count("screen-wake-lock=(self)") == 1


def test_a_tone_and_a_vibration_only_when_asked_for_and_only_once(
    enter: Enter, therapist: Staff, ines: Episode
) -> None:
    page = enter(therapist)
    page.add_init_script(WATCH + "watch.device()")
    page.goto(f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    hand.set_mode("locked")
    hand.skill("stand_load")
    hand.support("bars_both")
    expect(page.get_by_role("alert").filter(has_text="Not yet")).to_be_visible()
    assert page.evaluate("[watch.tones, watch.buzzes]") == [0, 0]
    hand.skill("don_check")
    page.get_by_role("button", name="Right hand").click()
    page.get_by_role("checkbox", name="Sound a tone").check()
    page.get_by_role("checkbox", name="Vibrate").check()
    page.get_by_role("button", name="Done").click()
    page.evaluate("() => { watch.tones = watch.buzzes = 0; }")  # what one hears on choosing it
    hand.skill("stand_load")
    hand.support("bars_both")
    _until(page, "watch.tones === 2 && watch.buzzes === 1")
    hand.support("bars_one")
    page.emulate_media(reduced_motion="reduce")
    hand.skill("don_check")
    hand.skill("stand_load")
    hand.support("bars_both")
    _until(page, "watch.tones === 4")
    assert page.evaluate("watch.buzzes") == 1, "less motion was asked for"


def test_the_advice_is_spoken_once(hand: Hand) -> None:
    """A live region into which the same text is put again is read out again."""
    hand.start_check()
    hand.sent()
    hand.page.evaluate(WATCH + "watch.speech()")
    hand.skill("stand_load")
    hand.support("bars_both")
    expect(hand.page.locator("[data-floor-advice]")).to_contain_text("A step on the way")
    hand.tap(hand.key("seen", "hollow_back"))
    hand.tap(hand.key("seen", "bent_hip"))
    hand.tap(hand.page.get_by_role("button", name="Start: Held"))
    hand.page.wait_for_timeout(500)
    heard = hand.page.evaluate("watch.heard")
    assert sum("A step on the way" in text for text in heard) == 1, heard
    hand.set_mode("locked")
    expect(hand.page.get_by_role("alert").filter(has_text="Not yet")).to_be_visible()
    hand.sent()
    heard = hand.page.evaluate("watch.heard")
    assert sum("Not yet, " in text for text in heard) == 1, heard
    assert sum(text == "Knee: Locked: only set, not proven" for text in heard) == 1, heard
