"""Roles with the days from and up to which they are held, in words: terms that follow each other without a day between
are one span."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from django.utils.translation import gettext as _

from clinic.language import dates
from clinic.staff.models import RoleTerm
from clinic.staff.roles import Role


@dataclass(frozen=True, slots=True)
class RoleSpan:
    """A role, the first day on which it is held without a break, and the last; none until further notice."""

    role: Role
    first_day: date
    last_day: date | None

    def words(self, day: date) -> str:
        """'clinic lead, to 30 Nov 2026'; one that begins after `day` says from when."""
        last = dates.day(self.last_day) if self.last_day else ""
        if self.first_day <= day:
            return _("{role}, to {last}").format(role=self.role.label, last=last) if last else str(self.role.label)
        said = _("{role}, from {first} to {last}") if last else _("{role}, from {first}")
        return said.format(role=self.role.label, first=dates.day(self.first_day), last=last)

    @property
    def ends(self) -> str:
        """That it ends, as the account review finds; nothing where no last day is given."""
        words = _("{role} ends on {day}")
        return words.format(role=self.role.label, day=dates.day(self.last_day)) if self.last_day else ""


def held_roles(terms: Iterable[RoleTerm], day: date) -> list[RoleSpan]:
    """The roles that are held on a day, and after them those that begin later, each by name. No statement."""
    spans: list[RoleSpan] = []
    for term in sorted(terms, key=lambda one: (one.role, one.period.lower)):
        begun = spans[-1] if spans else None
        if begun and begun.role == term.role and begun.last_day == term.period.lower - timedelta(days=1):
            spans[-1] = replace(begun, last_day=term.last_day)
        else:
            spans.append(RoleSpan(Role(term.role), term.period.lower, term.last_day))
    left = (one for one in spans if one.last_day is None or one.last_day >= day)
    return sorted(left, key=lambda one: (one.first_day > day, str(one.role.label), one.first_day))
