"""The main pages look as they did: compared with the pictures in tests/looks/pictures, as tests/looks/likeness.py says.

After a change that is meant: `manage.py test tests/browser/test_pictures_of_pages.py --retake`, look at what `git diff`
shows, commit. One day, one clinic, our own letters: what differs is the page.
"""

from __future__ import annotations

import io
import random
import uuid
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from caseload.models import Episode, Visit
from clinic import clock
from clinic.run.places import ROOT
from clinic.staff.models import Staff
from tests import makers
from tests.browser import caseload_scene
from tests.browser.caseload_scene import SIGNED, Scene, a_busy_morning
from tests.browser.floor_hands import Hand
from tests.browser.walking import inside
from tests.looks.likeness import reduced, unlike

FOLDER = Path(ROOT / "tests" / "looks" / "pictures")
DAY = datetime(2026, 11, 25, 10, 46, tzinfo=UTC)
TABLET, UPRIGHT, DESK = (1280, 800), (800, 1280), (1440, 900)
# name → who, address, size, dark
PAGES: dict[str, tuple[str, str, tuple[int, int], bool]] = {
    "today": ("therapist", "/", DESK, False),
    "today-dark": ("therapist", "/", DESK, True),
    "today-upright": ("therapist", "/", UPRIGHT, False),
    "person": ("therapist", "/people/{}/", DESK, False),
    "person-dark": ("therapist", "/people/{}/", DESK, True),
    "sign-off": ("therapist", "/people/{}/sign-off/obstacle/", DESK, False),
    "cleared": ("therapist", "/people/{}/cleared/", UPRIGHT, False),
    "floor-start": ("therapist", "/floor/{}/", TABLET, False),
    "floor": ("therapist", "/floor/{}/", TABLET, False),
    "floor-warning-dark": ("therapist", "/floor/{}/", TABLET, True),
    "floor-upright": ("therapist", "/floor/{}/", UPRIGHT, False),
    "caseload": ("lead", "/caseload/", DESK, False),
    "caseload-dark": ("lead", "/caseload/", UPRIGHT, True),
    "alerts": ("lead", "/alerts/", DESK, False),
    "staff": ("lead", "/staff/", DESK, False),
    "bench": ("bench", "/bench/", DESK, False),
    "bench-dark": ("bench", "/bench/", UPRIGHT, True),
}


@pytest.fixture
def scene(monkeypatch: pytest.MonkeyPatch) -> Scene:
    """A busy morning of one day, whichever day it is; Tamsin is in the gym at eleven, with a fall behind her."""
    dealt = random.Random(7)
    monkeypatch.setattr(uuid, "uuid4", lambda: uuid.UUID(int=dealt.getrandbits(128), version=4))
    for module in (clock, makers, caseload_scene):
        monkeypatch.setattr(module, "now", lambda: DAY)
    scene = a_busy_morning()
    jonas, tamsin = scene.therapist, scene.episode
    change = makers.an_entry(
        "setting_changed", by=scene.bench, at=DAY - timedelta(days=6), setting="alignment", to="5°"
    )
    tried = [
        makers.an_attempt(skill, rung, by=jonas, at=DAY - timedelta(days=2, minutes=9 - at), help="watching")
        for at, (skill, rung) in enumerate((("even_walk", "stick"), ("obstacle", "rail_contra"), ("even_walk", "none")))
    ]
    fall = makers.a_fall(by=jonas, at=DAY - timedelta(days=1), skill="even_walk", circumstances="Toe caught on a mat.")
    makers.imported(jonas, tamsin, change, *tried, fall)
    for at, name in enumerate(("Greta Sundquill", "Idris Tamberpar")):
        person = makers.a_person(given_name=name.split()[0], family_name=name.split()[1], site=jonas.site)
        episode = makers.an_episode(assigned_to=jonas, person=person, opened=DAY - timedelta(days=50 + at))
        signed = [
            makers.an_entry("sign_off", skill=key, by=jonas, at=DAY - timedelta(days=20), seq=place)
            for place, key in enumerate(SIGNED[: 5 + 4 * at])
        ]
        makers.imported(jonas, episode, *signed)
        _comes(episode, jonas, DAY + timedelta(hours=1 + at))
    _comes(tamsin, jonas, DAY + timedelta(minutes=14))
    return scene


def _comes(episode: Episode, staff: Staff, at: datetime) -> None:
    Visit.objects.create(episode=episode, site=episode.site, staff=staff, starts_at=at, minutes=45)


def _opened(page: Page, address: str) -> None:
    """With everything that the page asks for by itself, and our letters."""
    on_the_device = address == "/" or address.startswith("/floor/")  # people and packs are fetched after the page
    if address.startswith("/floor/"):
        page.goto(address)
    else:
        with page.expect_response("**/alerts/tally/"):
            page.goto(address)
    if on_the_device:
        page.wait_for_load_state("networkidle")
    page.evaluate("document.fonts.ready.then(() => new Promise((drawn) => requestAnimationFrame(drawn)))")


def _on_the_floor(page: Page, name: str) -> None:
    """As far into a session as the picture shows."""
    if name == "floor-start":
        return
    hand = Hand(page)
    if page.locator('input[name="start-skin"]').count():  # the first picture's session stays open for the others
        hand.start_check()
    hand.skill("even_walk")
    hand.support("none" if "warning" in name else "bars_both")


def _taken(page: Page, name: str) -> Image.Image:
    whole = not name.startswith("floor")
    return reduced(Image.open(io.BytesIO(page.screenshot(full_page=whole, animations="disabled"))))


def _small(picture: Image.Image) -> Image.Image:
    """With as many colours as such a page has: half the size for git."""
    return picture.quantize(128, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)


def test_the_main_pages_look_as_they_did(
    browser: Browser, live_server: LiveServer, scene: Scene, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    retake, found = request.config.getoption("--retake"), {}
    people: dict[str, Staff] = {"therapist": scene.therapist, "lead": scene.lead, "bench": scene.bench}
    with ExitStack() as doors:
        into: dict[str, Page] = {}
        for name, (who, address, size, dark) in PAGES.items():
            if who not in into:
                into[who] = doors.enter_context(inside(browser, live_server.url, people[who])).new_page()
                into[who].clock.set_fixed_time(DAY)
            page = into[who]
            page.set_viewport_size({"width": size[0], "height": size[1]})
            page.emulate_media(color_scheme="dark" if dark else "light")
            _opened(page, address.format(scene.episode.pk))
            if name.startswith("floor"):
                _on_the_floor(page, name)
            picture = _small(_taken(page, name))
            kept = FOLDER / f"{name}.png"
            if retake:
                picture.save(kept, optimize=True)
            elif not kept.is_file():
                found[name] = ["there is no picture of it: take one with --retake"]
            elif different := unlike(Image.open(kept).convert("RGB"), picture.convert("RGB")):
                picture.save(tmp_path / f"{name}.png")
                found[name] = [*different, f"now: {tmp_path / name}.png"]
        for page in into.values():  # a poll that is still answered would meet an emptied database
            page.wait_for_load_state("networkidle")
    assert found == {}
