"""Marks: one outline for each meaning, so that colour is never needed to tell two apart.

Pure functions that return SVG text without style attributes or script; looks come from classes (components.css, 3).
"""

from __future__ import annotations

from html import escape

from django.utils.translation import pgettext_lazy

from clinic.language.text import Text

_LINE = 'fill="none" stroke="currentColor" stroke-width="2"'
_FILL = 'fill="currentColor"'
_CUT = 'fill="none" stroke="#fff" stroke-width="2.4"'
_EIGHT = "M6 1h6l5 5v6l-5 5H6l-5-5V6z"
_TICK = "M5 9.4l2.8 2.8L13.2 6.4"

# 18 × 18 each: the status of a skill, a result, a severity, a state of a paper or a task.
_SHAPES: dict[str, str] = {
    "signed_off": f'<path d="{_EIGHT}" {_FILL}/><path class="mk-cut" d="{_TICK}" {_CUT}/>',
    "ready": f'<path d="{_EIGHT}" {_LINE}/><path d="{_TICK}" {_LINE}/>',
    "training": f'<path d="{_EIGHT}" {_LINE}/><path d="M9 1v16H6l-5-5V6l5-5z" {_FILL}/>',
    "open": f'<path d="{_EIGHT}" {_LINE}/>',
    "blocked": f'<path d="{_EIGHT}" {_LINE} stroke-dasharray="3.2 2.4"/><path d="M5 9h8" {_LINE}/>',
    "suspended": f'<path d="M9 0l9 9-9 9-9-9z" {_FILL}/><path class="mk-cut" d="M7 5.5v7M11 5.5v7" {_CUT}/>',
    "lapsed": f'<path d="M3 1h12L9.6 9 15 17H3l5.4-8z" {_LINE}/><path d="M5.4 15.4L9 11l3.6 4.4z" {_FILL}/>',
    "not_applicable": f'<path d="M4 14L14 4" {_LINE}/>',
    "safe": '<path d="M2 9.5l4.5 4.5L16 4" fill="none" stroke="currentColor" stroke-width="2.8"/>',
    "unsafe": '<path d="M3 3l12 12M15 3L3 15" fill="none" stroke="currentColor" stroke-width="2.8"/>',
    "stopped": '<path d="M5.5 2.5v13M12.5 2.5v13" fill="none" stroke="currentColor" stroke-width="3.2"/>',
    "critical": f'<path d="M1 1h16v16H1z" {_FILL}/><path class="mk-cut" d="M4.5 9h9" {_CUT}/>',
    "major": f'<path d="M9 1.6l8 14.6H1z" {_LINE}/><path d="M9 6.5v5M9 12.8v2" {_LINE}/>',
    "minor": f'<circle cx="9" cy="9" r="7.5" {_LINE}/><path d="M9 4.5v1.8M9 8v6" {_LINE}/>',
    "withdrawn": f'<path d="M1.5 1.5h15v15h-15z" {_LINE} stroke-dasharray="3 2.6"/><path d="M3 15L15 3" {_LINE}/>',
    "answered": f'<path d="M1.5 1.5h15v15h-15z" {_LINE}/><path d="{_TICK}" {_LINE}/>',
    "waiting": f'<circle cx="9" cy="9" r="7.5" {_LINE}/><path d="M9 4.5V9l3.2 2.4" {_LINE}/>',
    "planned": f'<path d="M2 3.5h14v13H2zM2 7.5h14M6 1v4M12 1v4" {_LINE}/>',
}

# other words for the same shapes
_SAME: dict[str, str] = {
    "good": "signed_off",
    "yours": "ready",
    "check": "major",
    "stop": "critical",
    "due_soon": "lapsed",
    "expiring": "lapsed",
    "overdue": "critical",
    "expired": "suspended",
    "current": "signed_off",
    "due": "waiting",
    "done": "answered",
    "not_yet": "open",
    "none": "not_applicable",
}

# the words that stand beside a mark where the caller gives none
WORDS: dict[str, Text] = {
    "signed_off": pgettext_lazy("mark", "signed off"),
    "ready": pgettext_lazy("mark", "ready to sign"),
    "training": pgettext_lazy("mark", "training"),
    "open": pgettext_lazy("mark", "open"),
    "blocked": pgettext_lazy("mark", "blocked"),
    "suspended": pgettext_lazy("mark", "suspended"),
    "lapsed": pgettext_lazy("mark", "lapsed"),
    "not_applicable": pgettext_lazy("mark", "does not apply"),
    "safe": pgettext_lazy("mark", "safe"),
    "unsafe": pgettext_lazy("mark", "unsafe"),
    "stopped": pgettext_lazy("mark", "stopped"),
    "critical": pgettext_lazy("mark", "critical"),
    "major": pgettext_lazy("mark", "major"),
    "minor": pgettext_lazy("mark", "minor"),
    "withdrawn": pgettext_lazy("mark", "withdrawn"),
    "answered": pgettext_lazy("mark", "answered"),
    "waiting": pgettext_lazy("mark", "waiting"),
    "planned": pgettext_lazy("mark", "planned"),
    "good": pgettext_lazy("mark", "good"),
    "yours": pgettext_lazy("mark", "yours"),
    "check": pgettext_lazy("mark", "check"),
    "stop": pgettext_lazy("mark", "stop"),
    "due_soon": pgettext_lazy("mark", "due soon"),
    "expiring": pgettext_lazy("mark", "ends soon"),
    "overdue": pgettext_lazy("mark", "overdue"),
    "expired": pgettext_lazy("mark", "expired"),
    "current": pgettext_lazy("mark", "current"),
    "due": pgettext_lazy("mark", "due"),
    "done": pgettext_lazy("mark", "done"),
    "not_yet": pgettext_lazy("mark", "not yet"),
    "none": pgettext_lazy("mark", "none"),
}


def shape(name: str) -> str:
    """The drawing of a mark as it stands inside an `<svg>` of 18 × 18. An unknown name is a mistake of the caller."""
    return f'<g class="mk mk-{escape(name)}">{_SHAPES[_SAME.get(name, name)]}</g>'


def mark(name: str, size: int = 18) -> str:
    """The mark as an SVG of its own, for use beside its word; hidden from readers of the page, who have the word."""
    return (
        f'<svg class="mark" viewBox="-1 -1 20 20" width="{size}" height="{size}" aria-hidden="true" focusable="false">'
        f"{shape(name)}</svg>"
    )


def word(name: str) -> str:
    """The word for a mark."""
    return str(WORDS[name])


def say(name: str, text: str = "") -> str:
    """Mark and word together: the shape says it, the word says it, the colour only agrees."""
    return f'<span class="say is-{escape(name)}">{mark(name)}<span>{escape(text or word(name))}</span></span>'


def logo() -> str:
    """Our own sign: three steps, and the handrail that thins out over them."""
    return (
        '<svg class="logo" viewBox="0 0 40 32" width="40" height="32" aria-hidden="true" focusable="false">'
        '<path class="logo-step" d="M2 30h10v-7h10v-7h10v-7h6" fill="none" stroke="currentColor" stroke-width="3.5"/>'
        '<path d="M3 18L13 11" stroke="currentColor" stroke-width="5"/>'
        '<path d="M13 11l10-7" stroke="currentColor" stroke-width="3"/>'
        '<path d="M23 4l6-4" stroke="currentColor" stroke-width="1.5"/></svg>'
    )
