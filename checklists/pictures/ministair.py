"""The staircase small: one pillar a skill, for rows of a list."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from checklists.pictures.tread import Tread, ordered
from checklists.pictures.words import WORDS, Words


def ministair(
    skills: Iterable[Tread],
    *,
    title: str,
    next_key: str | None = None,
    step: int = 6,
    rise: int = 2,
    words: Words = WORDS,
) -> str:
    """Full pillar signed off, half training, cut suspended, in lengths lapsed, cap alone not begun; a pointer over the
    next."""
    rows = ordered(skills)
    wide, high = len(rows) * step, len(rows) * rise + 14
    pillars = "".join(
        _pillar(t.status, i * step, high - 4 - i * rise, high, step)
        + (_pointer(i * step, high - 4 - i * rise, step) if t.key == next_key else "")
        for i, t in enumerate(rows)
    )
    said = escape(f"{title}: {summary(rows, words)}")
    return (
        f'<svg class="ministair" viewBox="-3 -12 {wide + 5} {high + 12}" width="{wide + 5}" height="{high + 12}" '
        f'role="img" aria-label="{said}"><title>{said}</title>{pillars}</svg>'
    )


def summary(rows: Iterable[Tread], words: Words = WORDS) -> str:
    """'12 of 23 signed off, 3 to be proven again': what does not apply is not counted."""
    counted = [t for t in rows if t.status != "not_applicable"]
    signed = sum(1 for t in counted if t.status == "signed_off")
    back = sum(1 for t in counted if t.status in ("suspended", "lapsed"))
    said = words.drawn["of_signed"].format(signed=signed, n=len(counted))
    return f"{said}, {words.drawn['prove_again'].format(n=back)}" if back else said


def ministair_key(words: Words = WORDS) -> str:
    """What its pillars and its pointer mean: one line."""
    named = {one: words.status[one] for one in ("signed_off", "ready", "training", "suspended", "lapsed")}
    named["open"] = words.drawn["not_begun"]
    drawn = [(_pillar(status, 0, 14, 26, 9), word) for status, word in named.items()]
    drawn.append((_pointer(0, 26, 9), words.drawn["next"]))
    return '<ul class="ms-key">' + "".join(_named(*one) for one in drawn) + "</ul>"


def _named(drawing: str, word: str) -> str:
    hidden = 'aria-hidden="true" focusable="false"'
    svg = f'<svg class="ministair" viewBox="-3 10 15 18" width="15" height="18" {hidden}>{drawing}</svg>'
    return f"<li>{svg}{escape(word)}</li>"


def _rect(name: str, x: float, y: float, wide: float, high: float, more: str = "") -> str:
    at = f'x="{x:g}" y="{y:g}" width="{wide:g}" height="{high:g}"'
    return f'<rect class="ms-{name}" {at} fill="currentColor"{more}/>'


def _pillar(status: str, x: float, y: float, high: float, step: int) -> str:
    wide, tall = step - 1, high - y
    if status == "signed_off":
        return f'<g class="ms-{status}">{_rect("full", x, y - 2, wide, tall + 2)}</g>'
    body = _rect("air", x, y, wide, tall, ' fill-opacity=".18"')
    if status == "lapsed":  # broken into lengths, as its tread is
        lengths = [y - 2 + 6 * number for number in range(int((tall + 2) // 6) + 1)]
        body += "".join(_rect("gap", x, at, wide, min(3.5, high - at)) for at in lengths if high - at > 0.5)
    elif status == "suspended":
        body += (
            f'<path class="ms-gap" d="M{x:g} {y - 2:g}h{wide}v2.5l-{wide} 3z" fill="currentColor"/>'
            f'<path class="ms-gap" d="M{x:g} {y + 7:g}l{wide}-3V{high:g}h-{wide}z" fill="currentColor"/>'
        )
    else:
        body += _rect("cap", x, y - 2, wide, 2)
        if status in ("training", "ready"):
            body += _rect("full", x, y + tall / 2, wide, tall / 2)
    return f'<g class="ms-{status}">{body}</g>'


def _pointer(x: float, y: float, step: int) -> str:
    path = f"M{x - 2:g} {y - 13:g}h{step + 3}l-{(step + 3) / 2:g} 8z"
    return f'<path class="ms-next" d="{path}" fill="currentColor"/>'
