"""Papers that run out: what state one is in on a day. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from clinic.language import dates

SOON = timedelta(days=42)  # the clinic's own default: time enough to renew a paper before it ends


class Standing(StrEnum):
    """How a paper stands on a day; each has a mark of its own."""

    CURRENT = "current"
    EXPIRING = "expiring"
    EXPIRED = "expired"
    NOT_YET = "not_yet"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Held:
    """A paper, or the lack of one: how it stands, until when it holds (that day included), and in words."""

    standing: Standing
    until: date | None = None

    @property
    def remark(self) -> str:
        """What a list says under the date, where something must be said."""
        remarks = {
            Standing.EXPIRING: _("ends soon"),
            Standing.EXPIRED: _("ended"),
            Standing.NOT_YET: _("not yet in force"),
        }
        return remarks.get(self.standing, "")

    @property
    def words(self) -> str:
        """As a page says it beside the mark."""
        said = {
            Standing.CURRENT: _("until {day}"),
            Standing.EXPIRING: _("ends soon: {day}"),
            Standing.EXPIRED: _("ended {day}"),
            Standing.NOT_YET: _("not yet, until {day}"),
            Standing.NONE: pgettext("no paper", "none"),
        }[self.standing]
        return said.format(day=dates.day(self.until) if self.until else "")


def standing(starts_on: date, expires_on: date, day: date) -> Standing:
    """The state of one paper on a day. Its last day still counts."""
    if day > expires_on:
        return Standing.EXPIRED
    if day < starts_on:
        return Standing.NOT_YET
    return Standing.EXPIRING if expires_on - day <= SOON else Standing.CURRENT


def held(papers: list[tuple[date, date]], day: date) -> Held:
    """What several papers of one kind (start, last day) come to: the longest in force, else the latest."""
    in_force = [paper for paper in papers if paper[0] <= day <= paper[1]]
    if not in_force and not papers:
        return Held(Standing.NONE)
    starts_on, expires_on = max(in_force or papers, key=lambda paper: paper[1])
    return Held(standing(starts_on, expires_on, day), expires_on)
