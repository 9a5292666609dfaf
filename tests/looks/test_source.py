"""What no page may need, read from the source: criteria of WCAG 2.2 whose breach would stand in a script or a sheet.

Each rule has an example that breaks it, so that a rule that finds nothing is seen to be able to.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from clinic.run.places import ROOT

APPS = ("clinic", "caseload", "checklists")
COLOURS = "red|green|blue|amber|yellow|orange|grey|gray"
# kind of file → what must not stand there
RULES: dict[str, tuple[str, str]] = {
    "1.2, 1.4.2, 2.2.2, 2.3.1 in a page": ("html", r"<(?:audio|video|marquee|blink|object|embed|iframe)\b|autoplay"),
    "2.2.2, 2.3.1 in a sheet": ("css", r"@keyframes|\banimation(?:-name)?\s*:(?!\s*none)"),
    "1.4.5 in a page": ("html", r"<(?:img|picture|canvas)\b"),
    "1.4.5 in a sheet": ("css", r"\burl\((?![\"']?\.\./fonts/)"),
    "1.4.13 a bubble of the browser's": ("html", r"<(?!svg|input|abbr)[a-z]+[^>{]*\stitle="),
    "1.4.13 in a sheet": (
        "css",
        r":hover[^{}]*\{[^}]*\b(?:display|visibility|opacity|content|clip-path)\s*:",
    ),
    "2.1.4 a letter": ("js", r"\.(?:key|code)\s*={2,3}\s*[\"'](?:Key)?[A-Za-z0-9]?[\"']|accesskey"),
    "2.1.4 in a page": ("html", r"\baccesskey="),
    "2.5.1, 2.5.2, 2.5.7 a hand that goes down or drags": (
        "js",
        r"Listener\(\s*[\"'](?:mousedown|pointerdown|touch\w+|drag\w*|drop|gesture\w+|swipe\w*)[\"']",
    ),
    "2.5.4 a tablet that is shaken": ("js", r"[\"']device(?:motion|orientation)\w*[\"']"),
    "2.5.7 in a page": ("html", r"\bdraggable="),
    "3.2.2 a choice that sends": ("js", r"[\"'](?:change|input)[\"'][^;]{0,80}(?:requestSubmit|submit\(\)|location)"),
    "1.3.3 told by colour": ("text", rf"\b(?:the|in|shown|marked|is|are) (?:{COLOURS})\b"),
}
BROKEN = {
    "1.2, 1.4.2, 2.2.2, 2.3.1 in a page": '<video src="x">',
    "2.2.2, 2.3.1 in a sheet": ".x { animation: blink 1s infinite; }",
    "1.4.5 in a page": '<img src="head.png">',
    "1.4.5 in a sheet": '.x { background: url("../head.png"); }',
    "1.4.13 a bubble of the browser's": '<span class="x" title="more">',
    "1.4.13 in a sheet": ".x:hover .more { display: block; }",
    "2.1.4 a letter": 'if (event.key === "s") save();',
    "2.1.4 in a page": '<button accesskey="s">',
    "2.5.1, 2.5.2, 2.5.7 a hand that goes down or drags": 'key.addEventListener("touchstart", record);',
    "2.5.4 a tablet that is shaken": 'addEventListener("devicemotion", undo);',
    "2.5.7 in a page": '<li draggable="true">',
    "3.2.2 a choice that sends": 'list.addEventListener("change", () => form.requestSubmit());',
    "1.3.3 told by colour": "Press the green key.",
}


def sources(kind: str) -> Iterator[tuple[str, str]]:
    """Our own files of a kind, by name; libraries of others aside. `text`: what stands in templates between tags."""
    suffix = "html" if kind == "text" else kind
    for app in APPS:
        for path in sorted(Path(ROOT / app).rglob(f"*.{suffix}")):
            if ".min." not in path.name:
                yield str(path.relative_to(ROOT)), _text(path.read_text()) if kind == "text" else path.read_text()


def _text(template: str) -> str:
    """What can be read: no tags, no comments, no code."""
    return re.sub(r"\{%\s*comment.*?endcomment\s*%\}|<[^>]*>|\{[%{#].*?[%}#]\}", " ", template, flags=re.DOTALL)


def breaches(rule: str) -> list[str]:
    """Where a rule is broken."""
    kind, pattern = RULES[rule]
    found = []
    for name, text in sources(kind):
        found += [f"{name}: {match.group(0)[:80]}" for match in re.finditer(pattern, text, re.IGNORECASE)]
    return found


@pytest.mark.parametrize("rule", RULES)
def test_the_rule_finds_what_breaks_it(rule: str) -> None:
    kind, pattern = RULES[rule]
    assert re.search(pattern, _text(BROKEN[rule]) if kind == "text" else BROKEN[rule], re.IGNORECASE)


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.startswith(("1.2", "2.2.2"))])
def test_nothing_plays_and_nothing_moves_by_itself(rule: str) -> None:
    assert breaches(rule) == []


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.startswith("1.4.5")])
def test_no_picture_holds_text_that_is_no_text(rule: str) -> None:
    assert breaches(rule) == []


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.startswith("1.4.13")])
def test_nothing_appears_only_under_a_pointer(rule: str) -> None:
    assert breaches(rule) == []


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.startswith("2.1.4")])
def test_no_script_takes_a_single_letter_for_a_command(rule: str) -> None:
    assert breaches(rule) == []


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.startswith("2.5")])
def test_no_gesture_is_needed(rule: str) -> None:
    assert breaches(rule) == []


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.startswith("3.2.2")])
def test_no_choice_sends_or_leads_away(rule: str) -> None:
    assert breaches(rule) == []


def test_no_text_tells_a_thing_by_its_colour() -> None:
    assert breaches("1.3.3 told by colour") == []
