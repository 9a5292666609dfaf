"""A record that was erased: every page says so, with the day and the reason, and shows nothing else."""

from __future__ import annotations

from django.utils.translation import gettext as _

from caseload.person.models import Person
from caseload.words import day_words
from clinic.clock import local_day
from clinic.errors import Refusal


class Gone(Refusal):
    """It was here, and was erased as the law demands."""

    code = "erased"
    status = 410


def erased_words(person: Person) -> str:
    """'Erased on 3 Mar 2026 because …'; nothing where it was not."""
    if person.erased_at is None:
        return ""
    day = day_words(local_day(person.erased_at, person.site.time_zone))
    return _("Erased on {day} because of {reason}.").format(day=day, reason=person.erased_because.rstrip("."))


def unless_erased(person: Person) -> Person:
    """The person; Gone, with the day and the reason, where their record was erased."""
    if person.erased_at is not None:
        raise Gone(
            _(
                "{erased_words} What was recorded about {number} is not here any more; that it was, by whom, "
                "and a fingerprint of every entry stay for the proof."
            ).format(erased_words=erased_words(person), number=person.number)
        )
    return person
