"""Every page in a language that nobody speaks, two fifths longer, accented, and once written from right to left:
nothing reaches beyond the window, nothing is cut off, and no text is left in English but what is data."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from playwright.sync_api import Browser, Page
from pytest_django import Settings
from pytest_django.live_server_helper import LiveServer

from tests.browser import pseudo
from tests.browser.walking import Walked, one_of_everything
from tests.web.leftover import in_the_database

pytestmark = pytest.mark.timeout(600)
QUESTIONS = (Path(__file__).parent / "pseudo.js").read_text()
NARROWEST, WIDER = (800, 1280), ((1280, 800), (1440, 900))
# Words that are the same in every language of this kind, or stand for themselves.
SAME = re.compile(
    r"\b(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec|min|kg|cm|PIN|CSV|API|UTC|HTTPS|JSON|IANA"
    r"|(?:Mon|Tues|Wednes|Thurs|Fri|Satur|Sun)day|January|February|March|April|June|July|August"  # as the browser
    r"|September|October|November|December"  # itself writes a day out, in the language that it is given
    r"|injury(?=: )"  # the name of a field of what was sent, in the refusal of it
    r"|English|Español|Alder Reach|Quay Street|Our clinic|WATCH_\w+|Europe/London)\b"
)
PLAIN = re.compile(r"(?<![\w@./-])[A-Za-z]{3,}(?![\w@/-])")
_kept: dict[str, Walked] = {}


@pytest.fixture
def walked(
    browser: Browser,
    live_server: LiveServer,
    settings: Settings,
    tmp_path: Path,
    request: pytest.FixtureRequest,
) -> Walked:
    """One walk in it; each test reads one kind of finding."""
    if not _kept:
        words = pseudo.make(tmp_path)
        settings.LOCALE_PATHS = [str(tmp_path)]
        settings.LANGUAGES = [(pseudo.CODE, "Þšéûđö")]  # the nearest for whoever asks for any English
        data: list[str] = []
        in_full = request.config.getoption("--themes") == "all"

        def look(page: Page, name: str, number: int) -> dict[str, list[str]]:
            if not data:
                data.extend(in_the_database())
            return looked(page, data, number, in_full=in_full)

        served(words, tmp_path / "static", settings)
        _kept["walk"] = one_of_everything(browser, live_server.url, look)
    return _kept["walk"]


@pytest.fixture(scope="module", autouse=True)
def others_find_their_own_files() -> Iterator[None]:
    yield
    finders.get_finder.cache_clear()  # type: ignore[attr-defined]  # the stubs do not know the cache


def served(words: str, folder: Path, settings: Settings) -> None:
    """The catalogue of the scripts as a static file like any other: a browser that is asked to look at every request
    keeps nothing, and would fetch each page's files anew."""
    path = folder / "clinic" / "words" / f"{pseudo.CODE}.js"
    path.parent.mkdir(parents=True)
    path.write_text(words)
    settings.STATICFILES_DIRS = [str(folder)]
    finders.get_finder.cache_clear()  # type: ignore[attr-defined]  # the stubs do not know the cache


def looked(page: Page, data: list[str], number: int, *, in_full: bool) -> dict[str, list[str]]:
    """What is found on one page in both directions of writing: at the least width that a tablet has, and at one of the
    two others by turns (`in_full`: at both). The window is left as it is, so that the next page begins with it."""
    texts = page.evaluate(f"{QUESTIONS}; pseudo.texts()")
    found: dict[str, list[str]] = {"plain": [text for text in texts if is_plain(text, data)]}
    wanted = [NARROWEST, *(WIDER if in_full else WIDER[number % 2 :][:1])]
    for size in sorted(wanted, key=lambda size: {"width": size[0], "height": size[1]} != page.viewport_size):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        for kind, lines in page.evaluate("pseudo.laidOut()").items():
            found.setdefault(kind, []).extend(lines)
    return found


def is_plain(text: str, data: list[str]) -> bool:
    """Whether a text has a word that is neither said in the language nor out of the database."""
    left = SAME.sub(" ", text)
    for value in data if PLAIN.search(left) else ():
        if value in left:
            left = left.replace(value, " ")
    return PLAIN.search(left) is not None


@pytest.mark.parametrize("kind", ["wide ltr", "wide rtl", "cut ltr", "cut rtl", "plain"])
def test_no_page_breaks_or_stays_in_english(walked: Walked, kind: str) -> None:
    assert walked.found[kind] == {}


def test_the_walk_was_in_this_language(walked: Walked) -> None:
    assert len(walked.pages) > 100
    assert any("Ţ" in way or "Þ" in way for shown in walked.ways.values() for way in sorted(sum(shown, ())))


def test_places_and_marks_of_a_text_stay() -> None:
    said = pseudo.pseudo("Sent by <b>%(who)s</b> at {time}: 5 %%")
    assert "<b>%(who)s</b>" in said
    assert "{time}" in said
    assert "%%" in said
    assert len(pseudo.pseudo("Nobody waits for a check.")) >= 25 * 1.4
    assert pseudo.pseudo(" · ") == " · "


def test_a_plain_text_is_told_from_data() -> None:
    assert is_plain("Saved.", ["Amara Vale"])
    assert not is_plain("Amara Vale · 25 Nov 2026", ["Amara Vale"])
    assert not is_plain("Šåṽéđ. ôñé", [])
