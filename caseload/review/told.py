"""What is said once a review has a new day."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.translation import gettext as _

from caseload.review.selectors import Due
from caseload.words import day_words, listed


def put_off_words(before: Due, day: date, late: Sequence[Due]) -> str:
    """'Routine review of 4 Oct 2026: now 3 Dec 2026. Still overdue: routine review of 14 Nov 2026.'"""
    review = _named(before)
    done = _("{review}: now {day}.").format(review=review[0].upper() + review[1:], day=day_words(day))
    if not late:
        return done
    return done + " " + _("Still overdue: {list}.").format(list=listed([_named(row) for row in late]))


def settled_words(done: Sequence[Due], planned: Sequence[Due], *, again: date | None = None) -> str:
    """'Settled: routine review of 4 Oct 2026. Planned next: routine review of 3 Dec 2026.'

    `planned`: the soonest first. `again`: the day that the review itself named, said before what comes sooner.
    """
    said = _("The review is recorded.")
    if done:
        said += " " + _("Settled: {list}.").format(list=listed([_named(row) for row in done]))
    if not planned:
        return said + " " + _("No review is planned now.")
    if again is None:
        return said + " " + _("Planned next: {review}.").format(review=_named(planned[0]))
    said += " " + _("Planned: look again on {day}.").format(day=day_words(again))
    if planned[0].due_on < again:
        said += " " + _("Next before it: {review}.").format(review=_named(planned[0]))
    return said


def option_words(row: Due) -> str:
    """'Routine review of 4 Oct 2026 (31 days overdue)'."""
    review = _named(row)
    return f"{review[0].upper()}{review[1:]} ({row.words})"


def _named(row: Due) -> str:
    if row.after_fall:
        return _("look again on {day} after the fall").format(day=day_words(row.due_on))
    return _("{kind} of {day}").format(kind=row.kind, day=day_words(row.due_on))
