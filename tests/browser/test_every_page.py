"""Every page and main state, for everybody: nothing that axe finds, nothing lost at 320 px, at 200 %, with wider text.

Two walks (walking.py) look at everything; each test here reads one kind of finding. In an ordinary run each page has
one of the themes, in turn, and what is dear is dealt out among the pages that are one form in one frame;
`manage.py test tests/browser/test_every_page.py --themes all` looks at each page in every way.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from tests.browser import looking
from tests.browser.walking import Walked, one_of_everything, where_nothing_happened

pytestmark = pytest.mark.timeout(900)  # the walk in every theme
LOOKS = ("axe", "focus", "moving", "titled", "linked", "reflow", "zoom", "spacing", "larger", "refused")
# what is no page whoever asks: forms that are only sent, files, data for a script, ways to somewhere else
NO_PAGE = {"elsewhere", "a file", "data", "405 page", "405 part of a page", "200 part of a page"}
Walking = Callable[[str], Walked]
_walks: dict[str, Walked] = {}


@pytest.fixture
def walk(browser: Browser, live_server: LiveServer, request: pytest.FixtureRequest) -> Walking:
    """A walk by its name, made by whichever test asks first."""
    in_full = request.config.getoption("--themes") == "all"

    def look(page: Page, name: str, number: int) -> dict[str, list[str]]:
        return looking.everything(page, name, number, in_full=in_full)

    def walked(which: str) -> Walked:
        if which not in _walks:
            go = {"full": one_of_everything, "empty": where_nothing_happened}[which]
            _walks[which] = go(browser, live_server.url, look)
        return _walks[which]

    return walked


@pytest.mark.parametrize("kind", [kind for kind in LOOKS if kind != "refused"])
def test_nothing_is_found_on_a_page_with_something_of_everything(walk: Walking, kind: str) -> None:
    assert walk("full").found[kind] == {}


def test_a_form_that_is_refused_says_so_to_everybody(walk: Walking) -> None:
    assert walk("full").found["refused"] == {}


def test_every_page_of_the_programme_was_seen_by_somebody(walk: Walking) -> None:
    walked = walk("full")
    assert {name: told for name, told in walked.unseen.items() if not told & NO_PAGE} == {}
    assert len(walked.pages) > 100


def test_the_ways_stand_in_one_order_on_every_page(walk: Walking) -> None:
    """Also where help stands, as soon as there is a way to it: in the navigation, like all that is on every page."""
    ways = {role: shown - {()} for role, shown in walk("full").ways.items()}
    assert {role: len(shown) for role, shown in ways.items() if len(shown) > 1} == {}
    assert len(ways["lead"]) == 1


@pytest.mark.parametrize("kind", [kind for kind in LOOKS if kind not in ("refused", "larger", "spacing")])
def test_nothing_is_found_where_nothing_has_happened_yet(walk: Walking, kind: str) -> None:
    assert walk("empty").found[kind] == {}
