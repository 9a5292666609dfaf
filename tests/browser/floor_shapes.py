"""The Floor measured: every control in the shapes that a tablet, a hand and large letters give the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from playwright.sync_api import Page

TARGET = 48  # CSS pixels, at the least, for whatever is tapped in a gym
# A thumb whose hand holds the side of a tablet of ten inches (1280 pixels on 217 mm) reaches about 80 mm in from that side, at
# whatever height the hand holds it: common practice, no source.
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

_TAKE = """([letters, hand]) => {
    document.documentElement.style.fontSize = letters === 100 ? "" : `${letters}%`;
    document.body.dataset.keys = hand === "left" ? "start" : "end";
}"""

_MEASURE = """([target, reach, often, hand]) => {
    const open = [...document.querySelectorAll("dialog[open]")].at(-1) ?? document;
    const shown = (element) => element.checkVisibility({ visibilityProperty: true });
    const named = (element) => (element.getAttribute("aria-label") ?? element.labels?.[0]?.textContent ?? element.textContent).trim().slice(0, 40);
    // the part of a box that no scrolling box around it cuts off
    const seen = (element) => {
        let { left, top, right, bottom } = element.getBoundingClientRect();
        for (let up = element.parentElement; up; up = up.parentElement) {
            const style = getComputedStyle(up);
            if (style.overflowX === "visible" && style.overflowY === "visible") continue;
            const box = up.getBoundingClientRect();
            [left, top, right, bottom] = [Math.max(left, box.left), Math.max(top, box.top), Math.min(right, box.right), Math.min(bottom, box.bottom)];
        }
        return { left, top, right, bottom, width: right - left, height: bottom - top };
    };
    const controls = [...open.querySelectorAll("button, a[href], input:not([type=hidden]), select, summary, [tabindex='0']:not(ol)")].filter(shown)
        .filter((each) => !each.matches(".skip, .skip *"));
    const found = [];
    const wide = document.documentElement;
    if (wide.scrollWidth > wide.clientWidth) found.push(`scrolls sideways by ${wide.scrollWidth - wide.clientWidth}`);
    for (const each of controls) {
        const box = each.getBoundingClientRect();
        if (box.width < target - .5 || box.height < target - .5) found.push(`small: ${named(each)} ${Math.round(box.width)}x${Math.round(box.height)}`);
        if (box.left < -.5 || box.right > wide.clientWidth + .5) found.push(`beyond the edge: ${named(each)}`);
    }
    const boxes = controls.map((each) => [each, seen(each)]).filter(([, box]) => box.width > 2 && box.height > 2);
    for (const [index, [one, a]] of boxes.entries()) {
        for (const [other, b] of boxes.slice(index + 1)) {
            if (one.contains(other) || other.contains(one)) continue;
            const across = Math.min(a.right, b.right) - Math.max(a.left, b.left), down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
            if (across > 1 && down > 1) found.push(`one over the other: ${named(one)} / ${named(other)}`);
        }
    }
    // words that do not fit their key
    for (const each of open.querySelectorAll("button, .key > span, summary, .act")) {
        if (shown(each) && each.scrollWidth > each.clientWidth + 1) found.push(`cut off: ${each.textContent.trim().slice(0, 40)}`);
    }
    if (often) {
        for (const each of open.querySelectorAll(often)) {
            if (!shown(each)) continue;
            const box = each.getBoundingClientRect();
            const away = (hand === "left" ? box.left : innerWidth - box.right) + target;
            if (away > reach) found.push(`out of the thumb's reach: ${named(each)} at ${Math.round(away)}`);
            if (box.top < 0 || box.bottom > innerHeight + .5) found.push(`out of sight: ${named(each)}`);
        }
    }
    return found;
}"""


def take(page: Page, shape: Shape) -> None:
    """Turn the tablet, change hands, set the letters."""
    page.set_viewport_size({"width": shape.width, "height": shape.height})
    page.evaluate(_TAKE, [shape.letters, shape.hand])


def measured(page: Page, state: str) -> list[str]:
    """What is wrong with a state of the page in any shape: one line each; none is good."""
    found: list[str] = []
    for shape in SHAPES:
        take(page, shape)
        asked: list[Any] = [TARGET, REACH, OFTEN if shape.is_ordinary else "", shape.hand]
        found += [f"{state}, {shape.name}: {line}" for line in page.evaluate(_MEASURE, asked)]
    take(page, SHAPES[0])
    return found
