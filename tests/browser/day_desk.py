"""The whole day at the desks: the lead shares out and answers, the records officer reads and takes out."""

from __future__ import annotations

import csv
from email.message import Message
from pathlib import Path

from playwright.sync_api import Page, expect

from caseload.models import Episode
from tests.browser.day_people import DAY, NAME, SECOND, People

WITHIN = 5_000  # milliseconds
TOLD = (
    ("referral: taken", "Marit Sandhollow"),
    ("episode: opened", "Marit Sandhollow"),
    ("cover: arranged", "Marit Sandhollow"),
    ("alert: acknowledged", "Marit Sandhollow"),
    ("skill: signed off", "Runa Achterling"),
    ("request: asked", "Runa Achterling"),
    ("prosthesis: registered", "Ebo Lanterne"),
    ("request: seen", "Ebo Lanterne"),
    ("review: done", "Runa Achterling"),
)


def takes_a_referral(page: Page, people: People) -> None:
    """The lead's first page is the Caseload; whoever is referred stands there with the days that they have waited."""
    expect(page.get_by_role("heading", name="Caseload")).to_be_visible()
    page.get_by_role("link", name="Take a referral").click()
    given, family = NAME.split()
    for label, text in (("Given name", given), ("Family name", family), ("Second identifier", SECOND)):
        page.get_by_label(label).fill(text)
    page.get_by_label("Born on").fill("1958-09-30")
    page.get_by_label("Received on").fill((people.today - 20 * DAY).isoformat())
    page.get_by_label("Amputation level").select_option("transfemoral")
    page.get_by_label("left", exact=True).check()
    for feature in ("manual lock", "yielding", "adjustable resistance"):
        page.get_by_label(feature).check()
    page.get_by_label("Reason, and what they want to do again").fill("To garden again.")
    page.get_by_role("button", name="Put on the waiting list").click()
    row = page.get_by_role("row", name=NAME)
    expect(row).to_contain_text("20 days, routine")
    expect(row).to_contain_text("Runa Achterling")  # who may teach this knee
    expect(row).not_to_contain_text("Lucie Amberwick")


def assigns(page: Page, people: People) -> Episode:
    """Load and authorisation of each stand beside their name before one is chosen."""
    page.get_by_role("link", name=f"Assign {NAME}").click()
    runa, lucie = (page.locator(".candidate").filter(has_text=one.name) for one in (people.therapist, people.colleague))
    expect(runa).to_contain_text("of 20\u00a0h")
    expect(runa).to_contain_text("may teach this knee")
    expect(lucie).to_contain_text("lacks lock")
    page.get_by_role("radio", name=people.therapist.name).check()
    page.get_by_label("In their care since").fill((people.today - 13 * DAY).isoformat())
    page.get_by_role("button", name="Assign and open the episode").click()
    expect(page.get_by_text(f"{NAME} is with ")).to_be_visible()
    expect(page.get_by_text("Nobody waits.")).to_be_visible()
    return Episode.objects.get(person__second_identifier=SECOND)


def arranges_cover_and_a_session(page: Page, people: People) -> None:
    """A colleague stands in next week; today somebody comes."""
    page.get_by_role("link", name="People", exact=True).click()
    page.get_by_role("link", name=NAME, exact=True).click()
    page.get_by_role("link", name="Plan, contact, hand over").click()
    page.get_by_role("link", name="Arrange cover").click()
    page.get_by_role("radio", name=people.colleague.name).check()
    page.get_by_label("From").fill((people.today + 7 * DAY).isoformat())
    page.get_by_label("To, that day included").fill((people.today + 13 * DAY).isoformat())
    page.get_by_role("button", name="Arrange").click()
    hands = page.get_by_role("region", name="In whose hands")
    expect(hands).to_contain_text("Lucie Amberwick stands in")
    page.get_by_role("link", name="Plan sessions").click()
    page.get_by_label("Day").fill(people.today.isoformat())
    page.get_by_label("Begins at").fill("12:00")
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.get_by_role("region", name="Sessions")).to_contain_text("Runa Achterling")


def hears_and_answers(page: Page) -> None:
    """The page that was open says so by itself. The act carries the rule, what to do now, and the given reason."""
    page.get_by_role("link", name="New alerts have come in").click(timeout=WITHIN)
    act = page.get_by_role("article", name=NAME)
    expect(act).to_contain_text("critical")
    expect(act).to_contain_text("against advice: My judgement")
    expect(act.get_by_role("heading", name="Do now")).to_be_visible()
    act.get_by_text("Say what was done").click()
    act.get_by_label("What was done").fill("Spoken with Runa: the lock is proven before weight comes on it.")
    act.get_by_role("button", name="Answer").click()
    expect(page.get_by_text("Nothing waits for an answer")).to_be_visible()
    page.get_by_role("link", name="Answered").click()
    expect(page.get_by_role("article", name=NAME)).to_contain_text("the lock is proven before weight comes on it.")


def says_nothing_about_the_person(letter: Message, episode: Episode) -> None:
    """An e-mail has a reference and a link, and nothing else about anybody."""
    said = f"{letter['Subject']} {letter.get_payload()}"
    assert episode.reference in said
    assert "/alerts/" in said
    person = episode.person
    said = said.replace(episode.reference, "")
    for secret in (person.given_name, person.family_name, person.number, SECOND, "1958", "lock", "knee"):
        assert secret.lower() not in said.lower(), secret


def sees_what_is_overdue(page: Page) -> None:
    """A review that nobody made is put before the lead."""
    page.goto("/caseload/")
    row = page.get_by_role("region", name="Table: overdue").get_by_role("row", name=NAME)
    expect(row).to_contain_text("Routine review")
    expect(row).to_contain_text("8 days")
    expect(row).to_contain_text("reminders went unanswered: yours to decide")


def finds_the_day_in_the_trail(page: Page, episode: Episode) -> None:
    """The records officer's only page. Filtered by the person's number it tells the whole day, with who and whence."""
    ways = set(page.locator(".plate nav a").all_inner_texts())
    assert "Trail" in ways
    assert not ways & {"Caseload", "Today", "People", "Alerts", "Staff", "Bench"}
    page.get_by_label("About").fill(episode.person.number)
    page.get_by_role("button", name="Look", exact=True).click()
    for verb, who in TOLD:
        row = page.get_by_role("row").filter(has_text=f"{who} {verb}").first
        expect(row).to_contain_text("page")
    refused = page.locator("tr.refused").filter(has_text="Pia Korrin")
    expect(refused).to_contain_text("/sign-off/yield_load/")


def can_change_nothing(page: Page, episode: Episode) -> None:
    """No way leads from the trail to a person, and the addresses of others refuse or find nothing."""
    ways = page.locator("main form").evaluate_all("forms => forms.map(one => `${one.method} ${one.pathname}`)")
    assert [way.split()[0] for way in ways] == ["post", "get"]  # takes the trail out; looks for rows
    for address in (f"/people/{episode.pk}/", f"/people/{episode.pk}/plan/", f"/floor/{episode.pk}/", "/caseload/"):
        answer = page.request.get(address)
        assert answer.status in (403, 404), address


def takes_the_trail_out(page: Page, folder: Path) -> set[tuple[str, str]]:
    """The rows of the filter as CSV: what was done, and by whom."""
    with page.expect_download() as download:
        page.get_by_role("button", name="Take out as CSV").click()
    file = folder / "trail.csv"
    download.value.save_as(file)
    with file.open(newline="", encoding="utf-8") as lines:
        return {(line["verb"], line["name"]) for line in csv.DictReader(lines)}
