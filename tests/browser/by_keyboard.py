"""Somebody who has a keyboard and no more: Tab to get there, arrows inside a group, Space to choose, Enter to press.

Wherever it presses something it asks that the focus is seen, and that nothing lies over it (WCAG 2.2: 2.1.1, 2.4.7,
2.4.11); the order in which Tab comes to things is that of the document (test_beyond_axe.py).
"""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

MOST = 120  # steps of the focus from one end of a page to the other

_HERE = """([selector, words]) => {
    const here = document.activeElement;
    const same = (one) => one.matches(selector) && (!words || one.textContent.trim().startsWith(words));
    if (!here) return "elsewhere";
    if (same(here)) return "there";
    const meant = [...document.querySelectorAll(selector)].find(same);
    const group = here.type === "radio" && meant?.type === "radio" && here.name === meant.name;
    return group ? "in its group" : "elsewhere";
}"""
_SEEN = """() => {
    const here = document.activeElement;
    const faults = [];
    const ringed = [here, here.nextElementSibling].filter(Boolean)
        .some((one) => getComputedStyle(one).outlineStyle === "solid");
    if (!ringed) faults.push("nothing shows that the focus stands there");
    const box = here.getBoundingClientRect();
    const x = box.left + box.width / 2, y = box.top + box.height / 2;
    if (box.bottom <= 0 || box.top >= innerHeight) faults.push("it is outside the window");
    const top = document.elementFromPoint(x, y);
    const own = here.closest("label, .key") ?? here;
    const over = top?.className || top?.localName;
    if (!top || !(own.contains(top) || top.contains(here))) faults.push(`covered by ${over}`);
    return faults;
}"""


class Keyboard:
    """The keyboard at one page."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def reach(self, selector: str, words: str = "") -> None:
        """Tab on until the focus stands on what is meant; in a group of radio buttons the arrows go on."""
        for _ in range(MOST):
            where = self.page.evaluate(_HERE, [selector, words])
            if where == "there":
                return
            self.page.keyboard.press("ArrowDown" if where == "in its group" else "Tab")
        pytest.fail(f"the keyboard never reaches {selector} {words}")

    def press(self, selector: str, words: str = "", *, key: str = "Enter") -> None:
        """Go there, see that one sees it, press."""
        self.reach(selector, words)
        faults = self.page.evaluate(_SEEN)
        assert faults == [], f"{selector} {words}: {faults}"
        self.page.keyboard.press(key)

    def choose(self, name: str, value: str) -> None:
        """A key by the name and value of its input."""
        self.press(f'input[name="{name}"][value="{value}"]', key="Space")

    def write(self, selector: str, text: str) -> None:
        """Into a field."""
        self.reach(selector)
        self.page.keyboard.type(text)
