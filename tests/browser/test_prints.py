"""What is taken home and handed over, as it comes out of the printer: on A4 and Letter, whole, black on white."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from caseload.models import Episode, Visit
from clinic.staff.models import Staff
from tests.browser.looking import asked
from tests.browser.test_paper import SIZES, pages
from tests.browser.walking import inside
from tests.looks import colour
from tests.makers import a_fall, a_person, a_therapist, ago, an_attempt, an_entry, an_episode, imported, now
from tests.taught import taught

MARGIN = 16  # mm, of the page that is taken home
WIDTHS = {"A4": 210, "Letter": 216}  # mm
SKILLS = (
    *("don_check", "sit_stand", "stand_load", "weight_shift", "hip_drive", "swing_release", "short_steps", "even_walk"),
    *("turns", "backwards", "yield_load", "yield_slow", "ramp_up", "stair_up", "kneel", "obstacle", "carry"),
)
# address → most pages: everything signed off is two pages to take home, five people are handed over on three
PRINTS = {"/people/{}/cleared/": 3, "/caseload/handover/": 3, "/people/{}/paper/": 1, "/people/{}/": 6}
# text that is written in colour, and the ground behind it, as the printed page has them
INKS = """() => [...document.body.querySelectorAll("*")]
    .filter((one) => one.checkVisibility())
    .filter((one) => [...one.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
    .filter((one) => !one.closest("svg, .unseen, .note-sign"))
    .map((one) => [getComputedStyle(one).color, one.textContent.trim().slice(0, 40)])"""


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    """Five people in one's hands; the first has almost everything signed off, a fall and a struck fact."""
    others = [an_episode(assigned_to=therapist, person=a_person(family_name=f"Ashdown-{one}")) for one in range(4)]
    ines = an_episode(assigned_to=therapist, person=a_person(given_name="Ines", family_name="Vartholm"))
    for episode in (ines, *others):
        Visit.objects.create(episode=episode, site=episode.site, staff=therapist, starts_at=now(), minutes=45)
    signed = [
        an_entry("sign_off", by=therapist, at=ago(days=20), skill=skill, seq=place)
        for place, skill in enumerate(SKILLS)
    ]
    tried = an_attempt("stair_down", by=therapist, at=ago(days=3))
    strike = an_entry("struck_out", by=therapist, at=ago(days=2), entry=tried["id"], reason="Wrong skill")
    imported(therapist, ines, *signed, tried, strike, a_fall(by=therapist, at=ago(days=1)))
    return ines


@pytest.fixture
def page(browser: Browser, live_server: LiveServer, therapist: Staff) -> Iterator[Page]:
    """The therapist's, who reads in the dark: paper is white all the same."""
    with inside(browser, live_server.url, therapist, color_scheme="dark") as context:
        yield context.new_page()


@pytest.fixture
def ready_to_go(therapist: Staff) -> Episode:
    """Somebody who has shown all of it, and to whom nothing has happened since."""
    episode = an_episode(assigned_to=therapist)
    imported(therapist, episode, *taught(therapist, *SKILLS, days=5))
    return episode


@pytest.mark.parametrize("address", PRINTS)
def test_it_comes_out_whole_and_readable_on_either_paper(
    page: Page, ines: Episode, ready_to_go: Episode, address: str
) -> None:
    whose = ready_to_go if "cleared" in address else ines
    page.goto(address.format(whose.pk))
    if whose is ready_to_go:
        assert page.locator(".items").first.locator("li").count() > 10
    for size, (wide, high) in SIZES.items():
        sheets = pages(page.pdf(format=size))
        assert 1 <= len(sheets) <= PRINTS[address], size
        assert all(abs(one[0] - wide) <= 1 and abs(one[1] - high) <= 1 for one in sheets), sheets
    page.emulate_media(media="print")
    for paper in SIZES:
        width = int((WIDTHS[paper] - 2 * MARGIN) / 25.4 * 96)
        page.set_viewport_size({"width": width, "height": 900})
        assert asked(page, "sideways") == [], f"cut off at the right of {paper}"
        assert asked(page, "clipped") == []
    assert _pale(page) == []


def _pale(page: Page) -> list[str]:
    """Text that is not dark enough on white paper once the colour is gone: 7:1, as on a page for bright light."""
    white, found = colour.rgb("#ffffff"), []
    for written, words in page.evaluate(INKS):
        ink = [int(float(part)) for part in written[written.index("(") + 1 : -1].split(",")[:3]]
        if colour.contrast(colour.rgb("#" + "".join(f"{part:02x}" for part in ink)), white) < 7:
            found.append(f"{written} {words}")
    return found
