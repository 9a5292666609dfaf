"""What somebody's papers allow on a day: a registration that is current, and authorisations for knee features."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Credentials:
    """Held on one day."""

    registered: bool
    features: frozenset[str]


def credentials(staff: Staff, day: date) -> Credentials:
    """What holds on a day, the first and the last day of each paper included. A withdrawn authorisation no longer
    holds."""
    on = Q(starts_on__lte=day, expires_on__gte=day)
    standing = Q(withdrawn_at__isnull=True) | Q(withdrawn_at__date__gt=day)
    return Credentials(
        registered=staff.registrations.filter(on).exists(),
        features=frozenset(staff.authorisations.filter(on, standing).values_list("feature", flat=True)),
    )
