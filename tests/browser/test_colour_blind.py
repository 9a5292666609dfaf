"""States stay apart for every sight: pictures as the browser draws them, through the matrices of tests/looks/colour.py.

Two glyphs of a family are apart where enough of their area is lighter in one than in the other, whatever the sight and
also without any colour; hue never has to tell them. Beside each stands its word (tests/pictures, `say`).
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser, Page

from checklists import pictures
from clinic.run.places import ROOT
from clinic.web.marks import mark
from tests.looks import colour
from tests.looks.colour import Numbers

SHEETS = ("tokens", "base", "components")
CSS = "".join(Path(ROOT / f"clinic/static/clinic/css/{name}.css").read_text() for name in SHEETS)
SEEN, ENOUGH = (
    20.0,
    0.025,
)  # a step of lightness (L*) seen at a glance; the part of the picture that has to differ by it
STATUSES = ("signed_off", "ready", "training", "open", "blocked", "suspended", "lapsed", "not_applicable")
FAMILIES: dict[str, dict[str, str]] = {
    "status of a skill": {name: f'<span class="is-{name}">{mark(name, 48)}</span>' for name in STATUSES},
    "result": {name: f'<span class="is-{name}">{mark(name, 48)}</span>' for name in ("safe", "unsafe", "stopped")},
    "severity": {name: f'<span class="is-{name}">{mark(name, 48)}</span>' for name in ("critical", "major", "minor")},
    "knee": {
        f"{mode}, {proof}": pictures.knee(mode, proof, size=64)
        for mode in ("walking", "locked", "free_swing")
        for proof in ("proven", "set", "failed")
    },
}


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """An empty page with the sheets of every page."""
    page = browser.new_page(viewport={"width": 400, "height": 300})
    yield page
    page.close()


def drawn(page: Page, theme: str, html: str) -> Numbers:
    """What the browser draws, as colours from 0 to 1."""
    page.set_content(
        f'<html data-theme="{theme}"><style>{CSS}'
        "#x { display: inline-block; padding: 4px; background: var(--paper); }"
        f'</style><body><div id="x">{html}</div>'
    )
    picture = Image.open(io.BytesIO(page.locator("#x").screenshot())).convert("RGB")
    return np.asarray(picture, dtype=float) / 255


def differ(one: Numbers, other: Numbers, sight: str) -> float:
    """The part of the picture in which one is seen to be lighter than the other."""
    light = [colour.lab(colour.seen_by(picture, sight))[..., 0] for picture in (one, other)]
    return float((np.abs(light[0] - light[1]) > SEEN).mean())


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("family", FAMILIES)
def test_two_of_a_family_are_told_apart_by_every_sight(page: Page, family: str, theme: str) -> None:
    seen = {name: drawn(page, theme, html) for name, html in FAMILIES[family].items()}
    alike = [
        f"{one} and {other} for {sight}"
        for one, other in combinations(seen, 2)
        for sight in colour.SIGHTS
        if differ(seen[one], seen[other], sight) < ENOUGH
    ]
    assert alike == []


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_neighbours_in_the_small_staircase_differ_in_shape(page: Page, theme: str) -> None:
    """Each status at the same height of the stairs, beside every other."""
    pillar = slice(-32, None)  # columns of the picture: the last pillar with its edge
    seen = {name: drawn(page, theme, _pillar(name))[:, pillar] for name in STATUSES if name != "not_applicable"}
    same = {("training", "ready"), ("ready", "training"), ("open", "blocked")}  # by intent: begun, not begun
    alike = [
        f"{one} and {other} for {sight}"
        for one, other in combinations(seen, 2)
        if (one, other) not in same and (other, one) not in same
        for sight in colour.SIGHTS
        if differ(seen[one], seen[other], sight) < ENOUGH
    ]
    assert alike == []


def _pillar(status: str) -> str:
    """The last of four pillars; those before it are the same in every picture."""
    rows = [
        pictures.Tread(
            key=f"s{at}", title="x", name="x", level=at, after=(), rungs=(), status=status if at == 3 else "open"
        )
        for at in range(4)
    ]
    return pictures.ministair(rows, title="x", rise=16, step=24)


def test_hue_alone_would_not_do(page: Page) -> None:
    """The measure finds two octagons of the same lightness alike, also where somebody sees the colour."""
    box = '<svg width="48" height="48"><rect width="48" height="48" fill="{}"/></svg>'
    red, green = (drawn(page, "light", box.format(fill)) for fill in ("#b03a3a", "#3a7a3a"))
    assert all(differ(red, green, sight) < ENOUGH for sight in colour.SIGHTS)
    assert colour.apart(red[20, 20], green[20, 20]) > 50, "and yet they are red and green"
