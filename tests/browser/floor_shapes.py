"""The Floor measured: every control in the shapes that a tablet, a hand and large letters give the page."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import orjson
from playwright.sync_api import Page

TARGET = 48  # CSS pixels, at the least, for whatever is tapped in a gym
# A thumb whose hand holds the side of a tablet of ten inches (1280 pixels on 217 mm) reaches about 80 mm in from that
# side, at whatever height the hand holds it: common practice, no source.
REACH = 472

OFTEN = ", ".join(
    (
        ".startcheck .good > input",
        ".plan-list input",
        ".rungs input",
        ".help input",
        ".res",
        ".undo-last",
        ".prove input",
        ".why .key > input",
        ".kneebar-keys input",
        ".ask-near button:not(.ask-close *)",
    )
)


@dataclass(frozen=True, slots=True)
class Shape:
    """A size of the screen, a hand, and how large the letters are."""

    name: str
    width: int
    height: int
    hand: str = "right"
    letters: int = 100

    @property
    def is_ordinary(self) -> bool:
        """Letters as the tablet has them: here the thumb must reach what is tapped often."""
        return self.letters == 100


SHAPES = (
    Shape("wide, right hand", 1280, 800),
    Shape("wide, left hand", 1280, 800, "left"),
    Shape("upright, right hand", 800, 1280),
    Shape("upright, left hand", 800, 1280, "left"),
    Shape("wide, letters twice as large", 1280, 800, letters=200),
    Shape("upright, letters twice as large", 800, 1280, "left", letters=200),
)

CONTRAST = 7  # WCAG 2.2, 1.4.6: text that can be read in bright light
_QUESTIONS = (Path(__file__).parent / "floor_shapes.js").read_text()


def _asked(page: Page, question: str, *values: object) -> list[str]:
    if not page.evaluate("typeof shapes === 'object'"):
        page.evaluate(_QUESTIONS)
    return list(page.evaluate(f"shapes.{question}(...{orjson.dumps(values).decode()})") or [])


def take(page: Page, shape: Shape) -> None:
    """Turn the tablet, change hands, set the letters."""
    page.set_viewport_size({"width": shape.width, "height": shape.height})
    _asked(page, "take", shape.letters, shape.hand)


def measured(page: Page, state: str) -> list[str]:
    """What is wrong with a state of the page in any shape: one line each; none is good."""
    found: list[str] = []
    for shape in SHAPES:
        take(page, shape)
        often = OFTEN if shape.is_ordinary else ""
        lines = _asked(page, "measure", TARGET, REACH, often, shape.hand)
        found += [f"{state}, {shape.name}: {line}" for line in lines]
    take(page, SHAPES[0])
    return found


def faint(page: Page, state: str) -> list[str]:
    """Words of less contrast than CONTRAST, in light and in dark."""
    page.emulate_media(reduced_motion="reduce")  # no colour on its way to another
    found: list[str] = []
    for theme in ("light", "dark"):
        page.evaluate("(theme) => { document.documentElement.dataset.theme = theme; }", theme)
        found += [f"{state}, {theme}: {line}" for line in _asked(page, "faint", CONTRAST)]
    page.evaluate("() => { delete document.documentElement.dataset.theme; }")
    return found
