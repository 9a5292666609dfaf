"""The picture after a tap: what the tap asked for is seen in it, what follows is not waited for, and no second tap,
however quick, meets what the first one has put away."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from caseload.models import Episode
from tests.browser.floor_hands import Hand, recorded

# In the task of the tap itself, before any picture and before anything that was put off: what a second tap would meet.
SAME_TASK = """([tapped, at]) => {
    document.querySelector(tapped).click();
    const other = document.querySelector(at);
    const { x, y, width, height } = other.getBoundingClientRect();
    const met = document.elementFromPoint(x + width / 2, y + height / 2);
    return { meets: met === other || other.contains(met), dialog: Boolean(met?.closest("dialog[open]")) };
}"""
NEXT_PICTURE = """(tapped) => new Promise((resolve) => {
    document.querySelector(tapped).click();
    requestAnimationFrame(() => {
        const { port1, port2 } = new MessageChannel();
        port2.onmessage = () => resolve(Boolean(document.querySelector("dialog[open]")?.checkVisibility()));
        port1.postMessage(null);
    });
})"""


PLACES = """async (tapped) => {
    const place = () => {
        const { x, y, width, height } = document.querySelector("dialog[open]").getBoundingClientRect();
        return [x, y, width, height].map(Math.round);
    };
    document.querySelector(tapped).click();
    const before = place();
    while (!document.querySelector("dialog:modal")) await new Promise(requestAnimationFrame);
    return [before, place()];
}"""


def modal(page: Page) -> bool:
    return bool(page.evaluate("() => Boolean(document.querySelector('dialog[open]')?.matches(':modal'))"))


@pytest.fixture
def walking(hand: Hand) -> Hand:
    hand.start_check()
    expect(hand.page.locator(".undo-last")).to_be_enabled()
    return hand


def test_a_question_stands_in_the_next_picture_and_lies_over_the_page_at_once(walking: Hand) -> None:
    page = walking.page
    page.locator(".undo-last").focus()
    met = page.evaluate(SAME_TASK, [".undo-last", '[data-floor="skillList"] input'])
    assert met == {"meets": False, "dialog": True}
    question = page.get_by_role("dialog", name="Strike this out?")
    expect(question).to_be_visible()
    expect(question.get_by_role("heading")).to_be_focused()
    assert modal(page)
    assert page.evaluate(NEXT_PICTURE, "dialog .ask-close button") is False
    expect(page.locator(".undo-last")).to_be_focused()
    assert page.evaluate(NEXT_PICTURE, ".undo-last") is True


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280), (390, 844)])
@pytest.mark.parametrize("tapped", [".undo-last", ".plan-all", "[data-floor='fallen'] button"])
def test_a_question_does_not_move_when_it_becomes_modal(walking: Hand, size: tuple[int, int], tapped: str) -> None:
    walking.page.set_viewport_size({"width": size[0], "height": size[1]})
    first, then = walking.page.evaluate(PLACES, tapped)
    assert first == pytest.approx(then, abs=12 if tapped == ".plan-all" else 0)


def test_a_question_that_is_closed_before_it_was_modal_stays_closed(walking: Hand) -> None:
    page = walking.page
    page.evaluate("""() => {
        document.querySelector(".undo-last").click();
        document.querySelector("dialog .ask-close button").click();
    }""")
    expect(page.locator("dialog")).to_have_count(0)
    walking.skill("stand_load")
    expect(walking.key("skill", "stand_load")).to_be_checked()


def test_with_another_skill_no_result_can_be_tapped_for_the_one_before(walking: Hand, ines: Episode) -> None:
    walking.skill("sit_stand")
    walking.support("bars_both")
    expect(walking.page.locator('[data-result="safe"]')).to_be_enabled()
    disabled = walking.page.evaluate("""() => {
        document.querySelector('input[name="skill"][value="stand_load"]').click();
        const safe = document.querySelector('[data-result="safe"]');
        safe.click();
        return safe.disabled;
    }""")
    assert disabled is True
    expect(walking.page.get_by_role("heading", name="Quiet standing")).to_be_visible()
    walking.support("bars_both")
    walking.result("safe")
    walking.sent()
    assert [fact["skill"] for fact in recorded(ines, "attempt")] == ["stand_load"]


def test_with_another_skill_no_key_of_the_one_before_takes_a_tap(walking: Hand, ines: Episode) -> None:
    """Support, help and what was seen: they stand there for one picture more, and would be counted for the other."""
    walking.skill("sit_stand")
    expect(walking.key("support", "bars_both")).to_be_visible()
    walking.page.evaluate("""() => {
        document.querySelector('input[name="skill"][value="stand_load"]').click();
        for (const name of ["support", "help", "seen"]) document.querySelector(`input[name="${name}"]`).click();
    }""")
    expect(walking.page.get_by_role("heading", name="Quiet standing")).to_be_visible()
    expect(walking.page.locator('input:is([name="support"], [name="seen"]):checked')).to_have_count(0)
    walking.support("bars_both")
    walking.result("safe")
    walking.sent()
    (fact,) = recorded(ines, "attempt")
    assert (fact["skill"], fact["help"], fact.get("deviations", [])) == (
        "stand_load",
        "stand_by",
        [],
    )  # the help that is its own


def test_of_all_skills_the_first_rows_answer_and_the_rest_follows(walking: Hand) -> None:
    page = walking.page
    coming = page.evaluate("""() => {
        document.querySelector(".plan-all").click();
        return document.querySelectorAll(".all-skills.coming .tread").length;
    }""")
    assert coming == 25
    rows = page.locator("dialog .tread")
    expect(rows).to_have_count(25)
    expect(page.locator(".all-skills.coming")).to_have_count(0)
    expect(rows.last.locator(".key-words")).to_be_visible()


def test_of_all_skills_the_chosen_one_leads_back_too(walking: Hand) -> None:
    page = walking.page
    chosen = walking.key("skill", "even_walk")
    for _ in range(2):
        if not page.locator(".plan-all").is_visible():
            walking.tap(page.locator(".plan-change"))
        walking.tap(page.locator(".plan-all"))
        walking.tap(walking.key("all-skills", "even_walk"))
        expect(page.locator("dialog")).to_have_count(0)
        expect(chosen).to_be_checked()
        expect(page.locator('[data-floor="attempt"] input').first).to_be_focused()


def test_what_strikes_the_newest_mark_waits_until_the_next_one_is_taken(hand: Hand) -> None:
    """It would be another mark: the one before."""
    hand.start_check()
    hand.skill("don_check")
    hand.support("none")
    expect(hand.page.locator(".undo-newest")).to_be_enabled()
    shut = hand.page.evaluate(
        """() => {
            document.querySelector("[data-result=safe]").click();
            return document.querySelector(".undo-newest").disabled;
        }"""
    )
    assert shut is True
    newest = hand.page.locator(".ledger > li", has=hand.page.locator(".undo-newest:enabled"))
    expect(newest).to_contain_text("Putting on")
    expect(hand.page.locator(".ledger button:disabled")).to_have_count(0)


def test_escape_leaves_a_question_that_is_not_modal_yet(hand: Hand) -> None:
    hand.start_check()
    fall = hand.page.get_by_role("button", name="Fall", exact=True)
    asked = fall.evaluate(
        """(key) => {
            key.focus();
            key.click();
            const asked = document.querySelectorAll("dialog[open]:not(:modal)").length;
            key.dispatchEvent(new KeyboardEvent("keydown", { key: "Escape", bubbles: true }));
            return asked;
        }"""
    )
    assert asked == 1
    expect(hand.page.locator("dialog")).to_have_count(0)
    expect(fall).to_be_focused()
