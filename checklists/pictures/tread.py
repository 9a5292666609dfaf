"""What a tread of the staircase shows, and the order of the treads."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from checklists.domain import bars
from checklists.pictures.names import short
from checklists.pictures.words import WORDS, Words
from checklists.words import said
from clinic.language import dates

# These wait for somebody to do something: they are drawn tall, with their reasons.
ASKS = frozenset({"ready", "training", "suspended", "lapsed"})


@dataclass(frozen=True, slots=True)
class Tread:
    """One skill of one person: its place, its rungs, how far the rail is proven, where it stands and why; titles and
    reasons in the reader's language. `brief`: what the drawing says beside the status, the longest first; what has no
    room is left out of it, and stands in the list beside it. `meanwhile`: it is blocked, and the next to
    try all the same, in the bars."""

    key: str
    title: str
    name: str
    level: int
    after: tuple[str, ...]
    rungs: tuple[str, ...]
    status: str
    reasons: tuple[str, ...] = ()
    proven: str | None = None
    allowed: str | None = None
    brief: tuple[str, ...] = ()
    meanwhile: bool = False

    @property
    def climbable(self) -> bool:
        """Whether a next rung is worth showing at all."""
        return self.meanwhile or self.status not in ("blocked", "not_applicable")

    @property
    def begun(self) -> bool:
        """Whether anything can stand behind it by now: evidence to look at."""
        return self.status not in ("blocked", "not_applicable", "open")


def levels(after: Mapping[str, Sequence[str]]) -> dict[str, int]:
    """How many landings lie below each skill: 0 needs nothing. (A protocol with a circle is refused on load.)"""
    known: dict[str, int] = {}

    def level(key: str) -> int:
        if key not in known:
            known[key] = 1 + max((level(a) for a in after[key]), default=-1)
        return known[key]

    return {key: level(key) for key in after}


def ladder(skill: Mapping[str, Any], *, both: bool) -> tuple[str, ...]:
    """The rungs that hold for a person (SEMANTICS.md §2): those of `both` where there are two prostheses."""
    return tuple((skill.get("both") or {}).get("rungs") or skill["rungs"]) if both else tuple(skill["rungs"])


def reach(skill: Mapping[str, Any], *, both: bool) -> str:
    """The rung as far as which a sign-off reaches: that of the last stage (SEMANTICS.md §4)."""
    proven = ((skill.get("both") or {}).get("proven") if both else None) or skill["proven"]
    support: str = proven["stages"][-1]["support"] if "stages" in proven else proven["support"]
    return support


def treads(
    document: Mapping[str, Any], statuses: Mapping[str, Mapping[str, Any]], *, both: bool = False
) -> list[Tread]:
    """The treads of a person, first to last, from a protocol document and the statuses of the board row."""
    place = levels({s["key"]: s.get("after", []) for s in document["skills"]})
    return ordered(
        _tread(skill, statuses.get(skill["key"], {}), place[skill["key"]], both) for skill in document["skills"]
    )


def as_next(rows: Iterable[Tread], key: str | None, support: Sequence[str], words: Words = WORDS) -> list[Tread]:
    """The treads where this one is the next to try. A blocked one is so in the bars alone, the first two of `support`:
    it says so, and shows no rung beyond them."""
    return [_in_bars(one, bars(support), words) if one.key == key and one.status == "blocked" else one for one in rows]


def _in_bars(tread: Tread, held_by: Sequence[str], words: Words) -> Tread:
    as_far_as = tread.rungs.index(tread.allowed) + 1 if tread.allowed else 0
    within = [rung for rung in tread.rungs[:as_far_as] if rung in held_by]
    return replace(tread, brief=(words.drawn["meanwhile"],), meanwhile=True, allowed=within[-1] if within else None)


def _tread(skill: Mapping[str, Any], told: Mapping[str, Any], level: int, both: bool) -> Tread:
    rungs = ladder(skill, both=both)
    proven = told.get("proven_rungs") or {}
    allowed = told.get("allowed")
    reasons = tuple(said(reason) for reason in told.get("reasons", ()))
    return Tread(
        key=skill["key"],
        title=said(skill["title"]),
        name=short(skill["key"], skill["title"]),
        level=level,
        after=tuple(skill.get("after", [])),
        rungs=rungs,
        status=told.get("status", "open"),
        reasons=reasons,
        proven=next((r for r in reversed(rungs) if r in proven), None),
        allowed=allowed if allowed in rungs else None,
        brief=_brief(told, reasons),
    )


def _brief(told: Mapping[str, Any], reasons: tuple[str, ...]) -> tuple[str, ...]:
    """The day of a signature, the day on which it lapsed, what suspended it, and the last reason: how far the evidence
    is. What a blocked skill waits for the thin lines of the drawing say."""
    status, signed, lapses = (told.get(key) for key in ("status", "signed_at", "lapses_at"))
    if status == "signed_off" and signed:
        day = date.fromisoformat(signed[:10])
        return (dates.day(day), dates.day_of_year(day))
    if status == "blocked":
        return ("",)
    last = reasons[-1:]
    if status == "lapsed" and lapses:
        return (" · ".join((dates.day(date.fromisoformat(lapses[:10])), *last)),)
    if status == "suspended":
        return (" ".join(dict.fromkeys((*reasons[:1], *last))),)
    return last


def ordered(rows: Iterable[Tread]) -> list[Tread]:
    """The treads from the first to the last: by level, then beside their prerequisites."""
    todo = list(rows)
    placed: list[Tread] = []
    place: dict[str, float] = {}
    for level in sorted({t.level for t in todo}):
        here = [t for t in todo if t.level == level]
        for tread in sorted(here, key=lambda t: _beside(t, place)):
            place[tread.key] = len(placed)
            placed.append(tread)
    return placed


def _beside(tread: Tread, place: Mapping[str, float]) -> float:
    known = [place[a] for a in tread.after if a in place]
    return sum(known) / len(known) if known else -1.0


def columns(rows: Sequence[Tread], support: Sequence[str]) -> tuple[str, ...]:
    """The columns of the handrail: the protocol's support; with two prostheses their two rails instead."""
    used = {rung for t in rows for rung in t.rungs}
    rails = [r for r in ("both_rails", "one_rail") if r in used]
    if not rails:
        return tuple(support)
    out: list[str] = []
    for key in support:
        if key == "contralateral_rail":
            out.extend(rails)
        elif key != "ipsilateral_rail":
            out.append(key)
    return tuple(out)


def rail_words(tread: Tread, words: Words = WORDS) -> str:
    """One sentence for what the handrail of a tread shows."""
    line = f"{words.drawn['proven_on']}: {words.rung(tread.proven)}" if tread.proven else words.drawn["none_proven"]
    if tread.allowed and tread.allowed != tread.proven and tread.climbable:
        line += f"; {words.drawn['allowed_next']}: {words.rung(tread.allowed)}"
    return f"{line}."
