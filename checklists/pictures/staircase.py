"""The staircase: every skill a tread in prerequisite order, its support rungs a handrail that thins out.

Treads that wait for somebody (ready, training, suspended, lapsed, and the next one) are tall and give their reasons
whole, in as many lines as they take; the settled ones are one line each, so that what matters is what is large.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from checklists.pictures.lanes import lanes
from checklists.pictures.plank import THICK, handrail, plank
from checklists.pictures.tread import ASKS, Tread, as_next, columns, ordered
from checklists.pictures.words import WORDS, Words
from clinic.web import marks

TALL, LOW, LINE, INSET, LANDING, LEFT, HEAD, BLOCK = 50.0, 34, 16, 2.0, 15, 30, 44, 252
LETTER = 0.53  # the width of the face's mean letter, of its size


@dataclass(frozen=True, slots=True)
class _Plan:
    """Where everything stands: left edge, top edge and height of each tread, the lines of the tall ones, and the size
    of the whole."""

    left: Mapping[str, float]
    top: Mapping[str, float]
    high: Mapping[str, float]
    text: Mapping[int, float]
    lines: Mapping[str, Sequence[str]]
    width: int
    height: float

    def plank_y(self, key: str) -> float:
        return self.top[key] + self.high[key] - THICK - 1

    @property
    def rail_x(self) -> float:
        return self.width - 6 - BLOCK


def _plan(rows: Sequence[Tread], next_key: str | None, width: int, words: Words) -> _Plan:
    """Left edges first: they say how wide a line may be, and that how many lines a reason takes."""
    left, text = _edges(rows)
    rail = width - 6 - BLOCK
    lines = {
        t.key: _wrapped(t, rail - text[t.level] - 30, t.key == next_key, words)
        for t in rows
        if t.status in ASKS or t.key == next_key
    }
    high = {t.key: TALL + LINE * (len(lines[t.key]) - 1) if t.key in lines else float(LOW) for t in rows}
    height = HEAD + sum(high.values()) + 14
    top: dict[str, float] = {}
    y = height - 14
    for t in rows:
        y -= high[t.key]
        top[t.key] = y
    return _Plan(left, top, high, text, lines, width, height)


def _edges(rows: Sequence[Tread]) -> tuple[dict[str, float], dict[int, float]]:
    """Where each tread begins, and the texts of each level."""
    left: dict[str, float] = {}
    text: dict[int, float] = {}
    x, level = float(LEFT), rows[0].level if rows else 0
    for t in rows:
        if t.level != level:
            x, level = x + LANDING, t.level
        left[t.key], text[level] = x, x + LANDING + 6
        x += INSET
    return left, text


def staircase(
    skills: Iterable[Tread],
    *,
    support: Sequence[str],
    uid: str = "stairs",
    title: str = "Staircase of skills",
    width: int = 800,
    next_key: str | None = None,
    href: str | None = None,
    words: Words = WORDS,
) -> str:
    """Draw the staircase.

    `support` is the protocol's, most first. `uid` prefixes ids and must be unique in the page. `href` is the link of a
    tread with {key} in it; without it treads are not links. A rung that is not among the columns is a KeyError: a
    drawing must not hide one.
    """
    rows = as_next(ordered(skills), next_key, support, words)
    plan = _plan(rows, next_key, width, words)
    cols = columns(rows, support)
    body = "".join(_tread(t, plan, cols, next_key, href, words) for t in rows)
    left, planks = plan.left, {t.key: plan.plank_y(t.key) for t in rows}
    return (
        f'<svg class="stairs" viewBox="0 0 {width} {plan.height:g}" role="group" aria-labelledby="{uid}-t {uid}-d">'
        f'<title id="{uid}-t">{escape(title)}</title><desc id="{uid}-d">{escape(_counts(rows, words))}</desc>'
        f"{_mass(rows, plan)}{_heads(cols, plan, words)}{_legend(plan, words)}"
        f'<g role="list" aria-label="{escape(title)}">{body}</g>{lanes(rows, left, planks, LANDING)}</svg>'
    )


def _counts(rows: Sequence[Tread], words: Words) -> str:
    counts = {word: sum(1 for t in rows if t.status == key) for key, word in words.status.items()}
    return (
        f"{words.drawn['counted'].format(n=len(rows))}. " + ", ".join(f"{c} {w}" for w, c in counts.items() if c) + "."
    )


def _mass(rows: Sequence[Tread], plan: _Plan) -> str:
    """The body of the stairs behind the treads."""
    under = [(plan.left[t.key], plan.top[t.key] + plan.high[t.key] - 1) for t in rows[-1:0:-1]]
    rects = "".join(
        f'<rect x="{x:g}" y="{y:g}" width="{plan.width - x:g}" height="{plan.height - y:g}"/>' for x, y in under
    )
    return f'<g class="st-mass" fill="none" aria-hidden="true">{rects}</g>'


def _heads(cols: Sequence[str], plan: _Plan, words: Words) -> str:
    """The heads of the rail's columns and the hair lines between them."""
    col = BLOCK / len(cols)
    heads, rules = "", ""
    for c, key in enumerate(cols):
        parts = words.head(key).split()
        spans = "".join(
            f'<tspan x="{plan.rail_x + (c + 0.5) * col:g}" dy="{14 if j else 0}">{escape(part)}</tspan>'
            for j, part in enumerate(parts)
        )
        heads += (
            f'<text class="st-head" text-anchor="middle" font-size="13" fill="currentColor" '
            f'y="{14 if len(parts) > 1 else 28}">{spans}</text>'
        )
        rules += (
            f'<path class="st-rule" d="M{plan.rail_x + c * col - 1:g} {HEAD - 8}V{plan.height:g}" fill="none" '
            'stroke="currentColor" stroke-opacity=".1"/>'
        )
    return f'<g aria-hidden="true">{rules}{heads}</g>'


def _legend(plan: _Plan, words: Words) -> str:
    """The key to the marks, in the air over the lower steps."""
    lines = "".join(
        f'{_mark(status, 0, HEAD + 8 + i * 27)}<text class="st-key" x="24" y="{HEAD + 22 + i * 27}" font-size="13" '
        f'fill="currentColor">{escape(word)}</text>'
        for i, (status, word) in enumerate(words.status.items())
    )
    return f'<g class="st-legend" aria-hidden="true">{lines}</g>'


def _tread(t: Tread, plan: _Plan, cols: Sequence[str], next_key: str | None, href: str | None, words: Words) -> str:
    x, y, high = plan.left[t.key], plan.top[t.key], plan.high[t.key]
    tx, tall, is_next = plan.text[t.level], t.key in plan.lines, t.key == next_key
    room = plan.rail_x - tx - 30
    beside = "" if tall else _beside(t, room, words)
    # where its line has no room for the word the mark says it
    said = tall or words.status[t.status] in beside
    mark = _mark(t.status, tx, y + (13 if tall else 5), "" if said else words.status[t.status])
    text = (
        _tall(t, tx + 25, y, room, plan.lines[t.key], words.drawn["next"] if is_next else "")
        if tall
        else _low(t, tx + 25, y, room, beside)
    )
    if href:
        hit = (
            f'<rect class="st-hit" x="{x:g}" y="{y:g}" width="{plan.rail_x - x:g}" height="{high:g}" fill="#fff" '
            'fill-opacity="0"/>'
        )
        text = f'<a href="{escape(href.format(key=t.key))}">{hit}{text}</a>'
    rail = handrail(t, plan.rail_x, y + (21 if tall else 14), BLOCK, cols, words)
    return (
        f'<g class="st-tread st-{t.status}{" st-next" if is_next else ""}" role="listitem">'
        f'<rect class="st-row" x="{x:g}" y="{y:g}" width="{plan.width - x:g}" height="{high - 1:g}" fill="none"/>'
        f"{plank(t.status, x, plan.plank_y(t.key), plan.width - 2)}{mark}"
        f"{text}{rail}</g>"
    )


def _told(t: Tread, words: Words) -> str:
    """The status and why."""
    status, why = words.status[t.status], next(iter(t.brief or t.reasons), "")
    return why if why.casefold().startswith(status.casefold()) else " · ".join(filter(None, (status, why)))


def _wrapped(t: Tread, room: float, is_next: bool, words: Words) -> list[str]:
    """The status and why in lines of a width; the first has the flag of the next skill before it."""
    wide = int(room / (13 * LETTER))
    flag = "\0" * (len(words.drawn["next"]) + 3) if is_next else ""  # stands for its room: no word begins with it
    lines = textwrap.wrap(flag + _told(t, words), max(wide, 12), break_on_hyphens=False) or [""]
    return [line.lstrip("\0") for line in lines]


def _tall(t: Tread, x: float, y: float, room: float, lines: Sequence[str], flag: str) -> str:
    """The name, and under it the status and why, whole."""
    name = f'<tspan class="st-title" font-size="16">{escape(_cut(t.name, room, 16))}</tspan>'
    flagged = f'<tspan class="st-flag">{escape(flag)}</tspan> · ' if flag else ""
    told = "".join(
        f'<text class="st-line" x="{x:g}" y="{y + 36 + LINE * number:g}" font-size="13" fill="currentColor">'
        f"{'' if number else flagged}{escape(line)}</text>"
        for number, line in enumerate(lines)
    )
    return f'<text x="{x:g}" y="{y + 20:g}" fill="currentColor">{name}</text>{told}'


def _beside(t: Tread, room: float, words: Words) -> str:
    """What has room whole beside the name: half a day would be no day. The list beside the drawing has every reason."""
    texts = t.brief if t.status == "signed_off" else (_told(t, words), words.status[t.status])
    left = room - len(t.name) * 8.6 - 12
    return next((text for text in texts if len(text) * 13 * LETTER <= left), "")


def _low(t: Tread, x: float, y: float, room: float, beside: str) -> str:
    """The name and what stands beside it, on one line."""
    name = f'<tspan class="st-title" font-size="16">{escape(_cut(t.name, room, 16))}</tspan>'
    return (
        f'<text x="{x:g}" y="{y + 19:g}" fill="currentColor">{name}<tspan class="st-line" dx="9" font-size="13">'
        f"{escape(beside)}</tspan></text>"
    )


def _cut(text: str, room: float, px: float) -> str:
    """Shorten a name to a width."""
    fits = int(room / (px * LETTER))
    return text if len(text) <= fits else f"{text[: max(1, fits - 1)].rstrip(' ,;·(')}…"


def _mark(status: str, x: float, y: float, word: str = "") -> str:
    """The mark of a status at a place in the drawing; its word stands beside it, or is told with it."""
    told = f'role="img"><title>{escape(word)}</title>' if word else 'aria-hidden="true">'
    return f'<g transform="translate({x:g} {y:g})" {told}{marks.shape(status)}</g>'
