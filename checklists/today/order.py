"""In which order people stand on Today, and why: the one rule, and pure.

First who is here now; then whom the plan has next; then the rest of the day; last whose session is over. Among those,
whoever has something due, the gravest first; then whoever changed since the reader last looked; then by the clock.
The rule is common practice, no source; a due thing never moves somebody who comes in the afternoon before the person
who stands at the bars.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from checklists.today.rows import Call, Due
from checklists.words import Spoken, pgettext_noop

LATE = timedelta(minutes=10)  # who has not begun by then is late: the clinic's default
NEXT = timedelta(hours=1)  # whoever begins within it is 'next': the clinic's default
PLACES = Spoken(
    {
        "now": pgettext_noop("place on Today", "In the gym now"),
        "next": pgettext_noop("place on Today", "Next"),
        "soon": pgettext_noop("place on Today", "Soon after"),
        "late": pgettext_noop("place on Today", "Planned time past, not begun"),
        "later": pgettext_noop("place on Today", "Later today"),
        "over": pgettext_noop("place on Today", "Over for today"),
    },
    "place on Today",
)
_PLACES = ("now", "next", "later", "over")
# What is due, the gravest first: a skipped step, a fall that nobody reviewed, a review whose day has passed, something
# to be shown by an hour, a proof that has run out, a signature that waits, a review whose day comes.
GRAVITY = ("alert", "fall", "overdue", "deadline", "lapsed", "ready", "waiting")


def in_order(calls: Iterable[Call], *, at: datetime) -> list[Call]:
    """The calls as they stand on the sheet, each with its place and the reason."""
    every = list(calls)
    until, first = _next_until(every, at), _first_to_come(every, at)
    placed = [
        _explained(replace(call, due=gravest(call.due), place=place_of(call, until)), at=at, first=first)
        for call in every
    ]
    return sorted(placed, key=_rank)


def place_of(call: Call, next_until: datetime) -> str:
    """now, next, later or over."""
    if call.state != "planned":
        return "now" if call.state == "now" else "over"
    return "next" if call.starts_at <= next_until else "later"


def gravest(dues: Iterable[Due]) -> list[Due]:
    """What is due, the gravest first; what weighs the same stays as it was."""
    return sorted(dues, key=lambda due: GRAVITY.index(due.kind))


def _next_until(calls: Sequence[Call], at: datetime) -> datetime:
    """The end of the hour that begins now, or with the first who is still to come."""
    first = min((call.starts_at for call in calls if call.state == "planned"), default=at)
    return max(at, first) + NEXT


def _first_to_come(calls: Sequence[Call], at: datetime) -> datetime | None:
    """When the first comes who is not late; that one alone is called 'next'."""
    return min(
        (call.starts_at for call in calls if call.state == "planned" and call.starts_at + LATE >= at), default=None
    )


def _rank(call: Call) -> tuple[int, int, bool, datetime, str]:
    grave = min((GRAVITY.index(due.kind) for due in call.due), default=len(GRAVITY))
    return _PLACES.index(call.place), grave, not call.changed, call.starts_at, str(call.episode_id)


def _place_words(call: Call, place: str, at: datetime) -> str:
    """Where they stand, in words. From the first minute after the planned time it is said how long ago that was: who is
    not late yet may be on the way, and is looked for. Afterwards `late` says that it is past."""
    past = (at - call.starts_at) // timedelta(minutes=1)
    if place not in ("next", "soon") or past < 1:
        return PLACES[place]
    if place == "next":
        words = ngettext("Next, planned for {n} minute ago", "Next, planned for {n} minutes ago", past)
    else:
        words = ngettext("Planned for {n} minute ago", "Planned for {n} minutes ago", past)
    return words.format(n=past)


def _explained(call: Call, *, at: datetime, first: datetime | None) -> Call:
    place = call.place
    if place == "next" and call.starts_at != first:
        place = "late" if call.starts_at + LATE < at else "soon"
    parts = [_place_words(call, place, at), *(due.text for due in call.due[:1]), *call.changed[:1]]
    more = len(call.due[1:]) + len(call.changed[1:])
    why = " · ".join([*parts, *([_("and {n} more").format(n=more)] if more else [])])
    return replace(call, why=why, comes_next=call.state == "planned" and call.starts_at == first)
