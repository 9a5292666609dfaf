"""What is looked at on each page of the walk. Each look gives lines, one a finding; none is good.

axe-core is the outside judge of what a machine can judge; the rest are criteria of WCAG 2.2 that it cannot see, in the
measures of the standard (https://www.w3.org/TR/WCAG22/). The questions asked inside the page stand in looking.js.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import orjson
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

QUESTIONS = (Path(__file__).parent / "looking.js").read_text()
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
# rules of axe that it counts as experimental, and that say what 2.5.3 and 1.3.4 ask
MORE = {"label-content-name-mismatch": {"enabled": True}, "css-orientation-lock": {"enabled": False}}
OF_SHEETS = {"css-orientation-lock": {"enabled": True}}
OF_COLOUR = ("color-contrast", "link-in-text-block")  # all that another theme can change
THEMES: dict[str, dict[str, Any]] = {
    "light": {"color_scheme": "light", "forced_colors": "none"},
    "dark": {"color_scheme": "dark", "forced_colors": "none"},
    "forced": {"color_scheme": "dark", "forced_colors": "active"},
}
# a colour that is on its way to another is judged where it ends
SETTLE = """document.getAnimations().forEach(
    (one) => one.effect.getComputedTiming().endTime === Infinity || one.finish())"""
SIZES = {"tablet": (1280, 800), "tablet upright": (800, 1280), "desk": (1440, 900)}
NARROW, ZOOMED, WIDE = (320, 640), (640, 400), SIZES["tablet"]  # 1.4.10; 1280 x 800 at 200 %; the tablet itself


def barriers(page: Page, *, rules: Iterable[str] = (), sheets: bool = False) -> list[str]:
    """What axe finds: one line a rule, with where. `rules`: only these. `sheets`: read the sheets of style, too, which
    one rule asks for and which takes as long as all the others."""
    more = MORE | OF_SHEETS if sheets else MORE
    run: dict[str, Any] = {"resultTypes": ["violations"], "preload": sheets, "rules": more}
    run["runOnly"] = {"type": "rule", "values": list(rules)} if rules else {"type": "tag", "values": TAGS}
    if rules:
        del run["rules"]
    ask = f"axe.run({orjson.dumps(run).decode()}).then((found) => found.violations)"
    page.evaluate(SETTLE)
    said = page.evaluate(f"typeof axe === 'object' && {ask}")
    if said is False:
        page.evaluate(Axe().axe_script)
        said = page.evaluate(ask)
    return [f"{rule['id']}: {rule['help']} {[node['target'] for node in rule['nodes']][:4]}" for rule in said]


def in_theme(page: Page, theme: str, *, rules: Iterable[str] = (), sheets: bool = False) -> list[str]:
    """axe in one theme; the page is light again afterwards."""
    page.emulate_media(**THEMES[theme])
    found = [f"{theme}: {line}" for line in barriers(page, rules=rules, sheets=sheets)]
    page.emulate_media(**THEMES["light"])
    return found


def in_both_schemes(page: Page) -> list[str]:
    """axe in light, and in dark what depends on colour."""
    return [*in_theme(page, "light"), *in_theme(page, "dark", rules=OF_COLOUR)]


def in_every_theme(page: Page) -> list[str]:
    """axe in light, with the sheets of style, and in dark and forced colours what depends on colour."""
    return [
        *in_theme(page, "light", sheets=True),
        *(line for theme in ("dark", "forced") for line in in_theme(page, theme, rules=OF_COLOUR)),
    ]


def asked(page: Page, question: str) -> list[str]:
    """A question of looking.js."""
    return asked_all(page, question)[question]


def asked_all(page: Page, *questions: str) -> dict[str, list[str]]:
    """Questions of looking.js, one after the other, in one go."""
    ask = "[" + ", ".join(f"looking.{question}() ?? []" for question in questions) + "]"
    said = page.evaluate(f"typeof looking === 'object' && {ask}")
    if said is False:
        page.evaluate(QUESTIONS)
        said = page.evaluate(ask)
    return dict(zip(questions, map(list, said), strict=True))


def sized(page: Page, size: tuple[int, int], *questions: str) -> list[str]:
    """Questions at another size of the window."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    found = asked_all(page, *questions)
    page.set_viewport_size({"width": WIDE[0], "height": WIDE[1]})
    return [line for lines in found.values() for line in lines]


def wider_than_the_screen(page: Page, *names: str) -> list[str]:
    """At which of these SIZES, all where none is named, a page scrolls sideways, and what is too wide there."""
    return [f"{name}: {line}" for name in names or SIZES for line in sized(page, SIZES[name], "sideways")]


def dressed(page: Page, how: str, *questions: str) -> list[str]:
    """Questions with other spaces in the text (`spaced`) or letters twice as large (`larger`)."""
    found = asked_all(page, how, *questions, "plain")
    return [line for question in questions for line in found[question]]


def refused(page: Page) -> dict[str, list[str]]:
    """Send the page's form as it stands, when something in it is wanting, and look at what comes back (3.3.1)."""
    if not asked(page, "canBeRefused"):
        return {}
    with page.expect_navigation(wait_until="domcontentloaded"):
        asked(page, "sendEmpty")
    return {"refused": barriers(page) + asked(page, "unexplained")}


def _one_of_many(page: Page) -> bool:
    """A page that is one form in the one frame of all such pages (act.html)."""
    return bool(page.evaluate("document.querySelector('main.act-page') !== null"))


def everything(page: Page, name: str, number: int, *, in_full: bool = False) -> dict[str, list[str]]:
    """All looks at one page. What is dear is shared out by the number of the page, unless `in_full`."""
    found = asked_all(page, "opened", "focus", "moving", "titled", "linked")
    del found["opened"]
    if in_full or not _one_of_many(page) or number % 3 == 0:
        theme = list(THEMES)[number % len(THEMES)]
        found["axe"] = in_every_theme(page) if in_full else in_theme(page, theme, sheets=number % 5 == 0)
    shared: dict[str, Callable[[], list[str]]] = {
        "reflow": lambda: sized(page, NARROW, "sideways", "clipped"),
        "zoom": lambda: sized(page, ZOOMED, "sideways", "clipped"),
        "spacing": lambda: dressed(page, "spaced", "sideways", "clipped"),
        "larger": lambda: dressed(page, "larger", "clipped"),
    }
    for place, (kind, look) in enumerate(shared.items()):
        if in_full or kind == "reflow" or number % len(shared) == place:
            found[kind] = look()
    if in_full or number % 4 == 0:
        found |= refused(page)
    return found
