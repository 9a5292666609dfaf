"""The whole day in the gym: what the therapist and the assistant do, each with one hand free."""

from __future__ import annotations

from playwright.sync_api import Locator, Page, expect

from caseload.models import Episode
from tests.browser.day_people import DAY, NAME, People
from tests.browser.floor_hands import Hand
from tests.makers import PASSWORD

LIES_OPEN = """plate => {
    const box = plate.getBoundingClientRect();
    const at = (y) => document.elementFromPoint(box.left + box.width / 2, y);
    return [box.top + 9, box.top + box.height / 2, box.bottom - 9].every(y => plate.contains(at(y)));
}"""
YIELD = "Trusting full weight to the bending knee, in the bars"


def reads_today(page: Page, episode: Episode) -> None:
    """Who comes, what is safe to try next and why, what must be checked first."""
    call = page.locator(".call").filter(has_text=NAME)
    expect(call).to_contain_text(episode.person.number)
    expect(call).to_contain_text("lock, yielding")
    expect(call.locator(".what")).to_have_text("Level walking, even steps, no support")
    expect(call).to_contain_text("1 of 2 safe attempts in a row")
    expect(call.locator(".first")).to_contain_text("Start check: skin, fit, footwear, knee mode")
    call.locator(".go a").click()
    expect(page.get_by_role("heading", name="Start check: begins the session")).to_be_visible()


def trains(hand: Hand) -> None:
    """The start check, and the two attempts that were wanting: three taps, then one."""
    hand.start_check()
    expect(hand.page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Walking")
    hand.taps = 0
    hand.skill("yield_load")
    hand.support("bars_one")
    expect(hand.page.locator("[data-floor-advice]")).to_contain_text("Go ahead")
    hand.result("safe")
    assert hand.taps == 3
    hand.result("safe")
    hand.sent()


def locks_and_unlocks(hand: Hand) -> None:
    """The lock in and proven, out and proven."""
    hand.set_mode("locked")
    hand.prove("straight", "caught", "loaded")
    expect(hand.page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Locked")
    hand.set_mode("walking")
    hand.prove("released", "bends")
    expect(hand.page.locator(".kneebar-is-proven .kneebar-mode")).to_have_text("Walking")


def skips_a_step(hand: Hand) -> None:
    """The lock is set and weight comes on it unproven: warned before the fact, done with a reason, then put right."""
    hand.set_mode("locked")
    hand.page.locator(".prove").locator("visible=true").first.wait_for()  # the plan is folded then
    hand.skill("stand_load")
    hand.support("bars_both")
    warning = hand.page.get_by_role("alert").filter(has_text="Not yet")
    expect(warning.get_by_text("Do now:")).to_be_visible()
    assert warning.evaluate(LIES_OPEN), "something lies over the warning"
    expect(hand.page.locator("[data-result=safe]")).to_be_disabled()
    hand.tap(hand.key("despite", "My judgement"))
    hand.result("safe")
    hand.sent()
    expect(hand.page.locator(".log-alerts")).to_contain_text("Do now:")


def puts_it_right_and_closes(hand: Hand) -> None:
    """Proven after all, unlocked, proven again, the end check, closed."""
    hand.tap(hand.page.locator(".log-alerts").get_by_role("button", name="I have read this"))
    hand.prove("straight", "caught", "loaded")
    hand.set_mode("walking")
    hand.prove("released", "bends")
    hand.tap(hand.page.get_by_role("button", name="Close session"))
    hand.tap(hand.key("end-skin", "good"))
    hand.tap(hand.page.get_by_role("button", name="Yes, proven"))
    hand.sent()
    expect(hand.facts.first).to_contain_text("Session closed")


def signs_off(page: Page, code: str) -> None:
    """From Today to the evidence, the statement, password and code; a wrong one signs nothing."""
    page.goto("/")
    plate = page.locator(".before").get_by_role("listitem").filter(has_text="A skill waits for a signature")
    expect(plate).to_contain_text(NAME)
    plate.get_by_role("link", name="Open the first").click()
    expect(page.get_by_role("heading", name=YIELD)).to_be_visible()
    expect(page.get_by_text("The evidence carries it")).to_be_visible()
    expect(page.locator("tbody tr")).to_have_count(6)
    statement = page.locator("blockquote")
    expect(statement).to_contain_text("'one hand on the bars' and no further")
    page.get_by_label("Your password", exact=True).fill("not this one")
    page.get_by_label("Code of your second factor").fill(code)
    page.get_by_role("button", name="Sign off", exact=True).click()
    expect(page.locator("form.deed")).to_contain_text("That is not your password")
    page.get_by_label("Your password", exact=True).fill(PASSWORD)
    page.get_by_label("Code of your second factor").fill(code)
    page.get_by_role("button", name="Sign off", exact=True).click()
    expect(page.get_by_text("Signed off.", exact=True)).to_be_visible()
    expect(tread(page, "signed off")).to_be_visible()
    expect(page.get_by_role("region", name="To do")).to_contain_text("Nothing waits.")


def tread(page: Page, words: str) -> Locator:
    """The tread of the bending knee on the drawn staircase, where it says these words."""
    return page.locator(".st-tread").filter(has_text="Full weight, knee bending").filter(has_text=words)


def asks_for_an_adjustment(page: Page) -> None:
    """Two choices and a sentence."""
    page.get_by_role("link", name="Ask for an adjustment").click()
    page.get_by_role("radio", name="resistance").check()
    page.get_by_label("What happens, and what you ask for").fill("Yields too fast in the bars: stiffer, please.")
    page.get_by_role("button", name="Ask").click()
    expect(page.get_by_text("Yields too fast in the bars")).to_be_visible()


def sees_what_fell_back(page: Page, episode: Episode) -> None:
    """The person's page: suspended, since when, and what must be proven again."""
    page.goto(f"/people/{episode.pk}/")
    expect(tread(page, "suspended")).to_be_visible()
    change = page.get_by_role("region", name="Table: settings").get_by_role("row").filter(has_text="Ebo Lanterne")
    expect(change).to_contain_text("Full weight, knee bending")


def assists(page: Page, people: People) -> None:
    """An assistant sees everybody who comes to the site, and records under direction what was tried before."""
    call = page.locator(".call").filter(has_text=NAME)
    expect(call).to_contain_text(f"with {people.therapist.name}")
    call.locator(".go a").click()
    hand = Hand(page)
    hand.tap(page.get_by_role("button", name="Begin another session"))  # the therapist's is closed
    hand.start_check()
    hand.skill("sit_stand")
    hand.support("bars_both")
    expect(page.locator("[data-floor-advice]")).to_contain_text("Go ahead")
    hand.result("safe")
    hand.tap(page.get_by_role("button", name="Close session"))
    hand.tap(hand.key("end-skin", "good"))
    hand.tap(page.get_by_role("button", name="Yes, proven"))
    hand.sent()
    expect(hand.facts.nth(2)).to_contain_text("safe")  # below the end check and the closing


def cannot_sign(page: Page, episode: Episode) -> None:
    """No way leads an assistant to a signature, and its address refuses."""
    page.goto("/")
    call = page.locator(".call").filter(has_text=NAME)
    call.get_by_role("link", name=NAME, exact=True).click()
    assert page.locator('a[href*="sign-off"]').count() == 0
    answer = page.goto(f"/people/{episode.pk}/sign-off/yield_load/")
    assert answer is not None
    assert answer.status == 403


def records_the_review(page: Page, people: People, episode: Episode) -> None:
    """Chased by news and on Today; recorded from the plan, with the day to look again."""
    page.goto("/")
    expect(page.locator(".call").filter(has_text=NAME)).to_contain_text("Routine review: 8 days overdue")
    page.goto(f"/people/{episode.pk}/plan/")
    expect(page.get_by_role("region", name="Asked of the bench")).to_contain_text("Changed to 4")
    page.get_by_role("link", name="Record a review").click()
    page.get_by_label("Look again on").fill((people.today + 28 * DAY).isoformat())
    page.get_by_label("What it found").fill("Walks evenly; the lock needs words before weight.")
    page.get_by_role("button", name="Record the review").click()
    reviews = page.get_by_role("region", name="Reviews")
    expect(reviews).to_contain_text("done")
    expect(reviews).to_contain_text("in 28 days")
