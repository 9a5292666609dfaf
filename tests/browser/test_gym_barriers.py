"""No barrier that axe-core knows of (WCAG 2.2 AA) on the pages of the gym in either theme; nothing too small."""

from __future__ import annotations

import pytest
from playwright.sync_api import Locator, Page, expect

from caseload.models import Episode, Visit
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.floor_hands import Hand
from tests.browser.looking import barriers, in_both_schemes, wider_than_the_screen
from tests.makers import (
    a_fall,
    a_lead,
    a_prosthetist,
    a_records_officer,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
)

THEMES = ("light", "dark")
SMALLEST = 24  # CSS pixels, WCAG 2.2 target size (minimum); the keys of the Floor are far above it


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    """Somebody with something of everything: signed, set back, in training, a fall, a struck fact."""
    episode = an_episode(assigned_to=therapist)
    Visit.objects.create(episode=episode, site=episode.site, staff=therapist, starts_at=now())
    skills = ("don_check", "sit_stand", "stand_load", "weight_shift", "hip_drive", "swing_release", "stair_up")
    signed = [an_entry("sign_off", by=therapist, at=ago(days=20), skill=skill) for skill in skills]
    change = an_entry("setting_changed", by=a_prosthetist(), at=ago(days=9), setting="alignment", to="2 mm out")
    tried = [an_attempt(skill, by=therapist, at=ago(days=3)) for skill in ("short_steps", "swing_release")]
    strike = an_entry("struck_out", by=therapist, at=ago(days=2), entry=tried[0]["id"], reason="Wrong skill")
    imported(therapist, episode, *signed, change, *tried, strike, a_fall(by=therapist, at=ago(days=1)))
    return episode


@pytest.fixture
def odo(therapist: Staff) -> Episode:
    """Somebody whose stairs wait for two checks: the resistance was changed, and no session has begun."""
    episode = an_episode(assigned_to=therapist)
    skills = ("don_check", "sit_stand", "stand_load", "weight_shift", "hip_drive", "swing_release", "short_steps")
    signed = [
        an_entry("sign_off", by=therapist, at=ago(days=20), seq=number, skill=skill)
        for number, skill in enumerate((*skills, "even_walk", "stair_up"))
    ]
    tried = an_attempt("stair_up", "contralateral_rail", by=therapist, at=ago(days=3))
    change = an_entry("setting_changed", by=a_prosthetist(), at=ago(days=1), setting="resistance", to="5")
    imported(therapist, episode, *signed, tried, change)
    return episode


@pytest.mark.parametrize(
    "address", ["/", "/people/{}/"]
)  # with everything in the drawings; test_every_page.py walks all
def test_no_barriers(enter: Enter, therapist: Staff, ines: Episode, address: str) -> None:
    page = enter(therapist, address.format(ines.pk))
    assert in_both_schemes(page) == []


def test_no_barriers_while_a_session_goes_on(enter: Enter, therapist: Staff, ines: Episode) -> None:
    page = enter(therapist, f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    hand.skill("short_steps")
    hand.support("bars_both")
    expect(page.locator("[data-floor-advice] .note")).to_be_visible()
    assert in_both_schemes(page) == []
    hand.support("none")
    expect(page.get_by_role("alert").first).to_be_visible()
    assert in_both_schemes(page) == []
    hand.set_mode("locked")
    expect(page.locator(".kneebar-is-set")).to_be_visible()
    assert in_both_schemes(page) == []


@pytest.mark.parametrize("theme", ["dark"])
@pytest.mark.parametrize("question", ["Fall", "Close session", "All 25 skills"])
def test_no_barriers_in_a_question(enter: Enter, therapist: Staff, ines: Episode, question: str, theme: str) -> None:
    page = enter(therapist, f"/floor/{ines.pk}/", color_scheme=theme)
    Hand(page).start_check()
    page.get_by_role("button", name=question).click()
    expect(page.get_by_role("dialog")).to_be_visible()
    assert barriers(page) == []


def test_every_key_of_the_floor_is_48_pixels_or_more(enter: Enter, therapist: Staff, ines: Episode) -> None:
    page = enter(therapist, f"/floor/{ines.pk}/")
    hand = Hand(page)
    hand.start_check()
    hand.skill("short_steps")
    hand.support("bars_both")
    assert _smaller_than(page, 48, "button, .key > input, summary, .strip .act") == []


@pytest.mark.parametrize("address", ["/", "/people/{}/", "/people/{}/sign-off/swing_release/"])
def test_nothing_is_too_small_to_hit(enter: Enter, therapist: Staff, ines: Episode, address: str) -> None:
    page = enter(therapist, address.format(ines.pk))
    assert _smaller_than(page, SMALLEST, "button, a:not(.skip), summary, input:not([type=hidden])") == []


def test_the_way_to_where_a_proof_is_checked_is_not_too_small_to_hit(enter: Enter, ines: Episode) -> None:
    a_records_officer()  # beside whose name it stands, in small print
    page = enter(a_lead(), f"/keeping/people/{ines.person_id}/")
    expect(page.get_by_role("link", name="the page for checking")).to_be_visible()
    assert _smaller_than(page, SMALLEST, "main p.small > a") == []


@pytest.mark.parametrize("theme", THEMES)
def test_what_leads_on_in_the_drawing_looks_as_every_other_link_does_and_on_paper_as_before(
    enter: Enter, therapist: Staff, ines: Episode, theme: str
) -> None:
    page = enter(therapist, f"/people/{ines.pk}/", color_scheme=theme)
    drawn, other = page.locator(".stairs a .st-title"), page.locator(".rev-part a").first
    assert _lines(drawn) == {("underline", _thickness_in_a_drawing(page, "1px"), _style(other, "color"))}
    page.emulate_media(media="print")
    assert _lines(drawn) == {("none", "auto", "rgb(0, 0, 0)")}


def _thickness_in_a_drawing(page: Page, asked: str) -> str:
    """What this browser makes of a line's thickness under drawn words: Chromium 150 has one thickness for all."""
    made: str = page.evaluate(
        """(asked) => {
            const words = document.createElementNS("http://www.w3.org/2000/svg", "text");
            words.style.textDecorationThickness = asked;
            document.querySelector("svg").append(words);
            const made = getComputedStyle(words).textDecorationThickness;
            words.remove();
            return made;
        }""",
        asked,
    )
    return made


def _lines(titles: Locator) -> set[tuple[str, str, str]]:
    """How names in the drawing are underlined, how thick, and their colour."""
    how = ("text-decoration-line", "text-decoration-thickness", "fill")
    return {(_style(one, how[0]), _style(one, how[1]), _style(one, how[2])) for one in titles.all()}


def _style(one: Locator, name: str) -> str:
    """A computed style."""
    return str(one.evaluate("(one, name) => getComputedStyle(one).getPropertyValue(name)", name))


def _smaller_than(page: Page, size: int, selector: str) -> list[str]:
    """What can be tapped, is in view and is lower than a size."""
    found: list[str] = page.evaluate(
        """([selector, size]) => [...document.querySelectorAll(selector)]
            .filter((element) => element.checkVisibility())
            .map((element) => [element, element.getBoundingClientRect()])
            .filter(([, box]) => box.height > 0 && box.height < size - 0.5)
            .map(([element, box]) => `${element.outerHTML.slice(0, 80)} ${box.height}`)""",
        [selector, size],
    )
    return found


@pytest.mark.parametrize(
    "address", ["/", "/people/", "/people/{}/", "/people/{}/sign-off/swing_release/", "/floor/{}/"]
)
def test_no_page_scrolls_sideways(enter: Enter, therapist: Staff, ines: Episode, address: str) -> None:
    assert wider_than_the_screen(enter(therapist, address.format(ines.pk))) == []


def test_no_verdict_on_stairs_is_wider_than_the_page(enter: Enter, therapist: Staff, odo: Episode) -> None:
    page = enter(therapist, f"/people/{odo.pk}/")
    verdict = "not before the start check and the check in the bars; after it: yes, also at home"
    expect(page.locator(".way .say", has_text=verdict)).to_be_visible()
    assert wider_than_the_screen(page) == []


def test_a_plate_of_any_length_breaks_its_line_where_the_page_ends(
    enter: Enter, therapist: Staff, odo: Episode
) -> None:
    """Wherever one stands outside a table: also under words of another language, or a person's own."""
    page = enter(therapist, f"/people/{odo.pk}/")
    plates = page.locator(":not(td, th) > .say > span")
    plates.evaluate_all("(all) => all.forEach((one) => { one.textContent = 'long words '.repeat(20); })")
    assert wider_than_the_screen(page, "tablet upright") == []
