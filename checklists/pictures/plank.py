"""One tread: the plank that is solid where one can stand, and the handrail that is filled as far as it is proven."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from checklists.pictures.tread import Tread, rail_words
from checklists.pictures.words import Words

THICK = 6


def plank(status: str, x: float, y: float, end: float) -> str:
    """Solid signed off, double ready, half training, hollow open, dashed blocked, cracked suspended, cut lapsed."""
    return f'<g class="pk pk-{status}" aria-hidden="true">{_body(status, x, y, end)}</g>'


def _body(status: str, x: float, y: float, end: float) -> str:
    wide = end - x
    box = (
        f'<rect class="pk-box" x="{x:g}" y="{y:g}" width="{wide:g}" height="{THICK}" fill="none" stroke="currentColor"'
    )
    if status == "suspended":
        at = x + wide * 0.42
        return (
            f'<path class="pk-full" d="M{x:g} {y:g}H{at:g}l-3 3 4 1-4 2H{x:g}z" fill="currentColor"/>'
            f'<path class="pk-full" d="M{at + 12:g} {y:g}H{end:g}v{THICK}H{at + 11:g}l-3-2 4-1z" fill="currentColor"/>'
        )
    if status == "lapsed":
        return (
            f'<path class="pk-dots" d="M{x:g} {y + THICK / 2:g}H{end:g}" fill="none" stroke="currentColor" '
            f'stroke-width="{THICK}" stroke-dasharray="14 5"/>'
        )
    if status == "not_applicable":
        return (
            f'<path class="pk-thin" d="M{x:g} {y + 3:g}H{end:g}" fill="none" stroke="currentColor" '
            'stroke-dasharray="1 5"/>'
        )
    return {
        "signed_off": _full(x, y, wide),
        "ready": f"{box}/>{_full(x + 2, y + 2, wide - 4, 2)}",
        "training": f"{box}/>{_full(x, y, wide / 2)}",
        "blocked": f'{box} stroke-dasharray="5 4"/>',
    }.get(status, f"{box}/>")


def _full(x: float, y: float, wide: float, high: float = THICK) -> str:
    return f'<rect class="pk-full" x="{x:g}" y="{y:g}" width="{wide:g}" height="{high:g}" fill="currentColor"/>'


def handrail(tread: Tread, x: float, y: float, wide: float, columns: Sequence[str], words: Words) -> str:
    """The rail: filled where proven, a hand where it is now, hollow where the next attempt may go, a thread beyond."""
    place = {rung: i for i, rung in enumerate(tread.rungs)}
    proven = place.get(tread.proven or "", -1)
    allowed = place.get(tread.allowed or "", -1) if tread.climbable else -1
    column = {rung: i for i, rung in enumerate(columns)}
    col = wide / len(columns)
    parts: list[str] = []
    last = -1
    for i, rung in enumerate(tread.rungs):
        c = column[rung]
        if i and c - last > 1:  # the skill lacks the rungs between: the rail goes on as a thread
            parts.append(_thread(x + (last + 1) * col - 2, x + c * col, y, known=i <= proven))
        last = c
        thick = 10 - 8.5 * c / max(len(columns) - 1, 1)  # from a bar to a thread
        parts.append(_length(x + c * col, x + (c + 1) * col - 2, y, thick, i, proven, allowed))
    label = escape(rail_words(tread, words))
    return f'<g class="rl" role="img" aria-label="{label}">{"".join(parts)}</g>'


def _thread(x0: float, x1: float, y: float, *, known: bool) -> str:
    look = (
        'class="rl-thread" stroke-opacity=".7"'
        if known
        else 'class="rl-later" stroke-opacity=".6" stroke-dasharray="2 4"'
    )
    return f'<path {look} d="M{x0:g} {y:g}H{x1:g}" fill="none" stroke="currentColor"/>'


def _length(x0: float, x1: float, y: float, thick: float, i: int, proven: int, allowed: int) -> str:
    if i <= proven:
        bar = (
            f'<rect class="rl-proven" x="{x0:g}" y="{y - thick / 2:g}" width="{x1 - x0:g}" height="{thick:g}" '
            'fill="currentColor"/>'
        )
        hand = (
            f'<circle class="rl-hand" cx="{x1 - 6:g}" cy="{y:g}" r="6.5" fill="currentColor"/>' if i == proven else ""
        )
        return bar + hand
    if i <= allowed:
        high = max(thick, 4) + 4
        return (
            f'<rect class="rl-next" x="{x0 + 1:g}" y="{y - high / 2:g}" width="{x1 - x0 - 2:g}" height="{high:g}" '
            'fill="none" stroke="currentColor" stroke-width="2"/>'
        )
    return (
        f'<path class="rl-later" d="M{x0:g} {y:g}H{x1:g}" fill="none" stroke="currentColor" stroke-opacity=".6" '
        'stroke-width="1.5" stroke-dasharray="2 4"/>'
    )
