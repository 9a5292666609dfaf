"""Asking who looked at a person is itself a look at the trail."""

from __future__ import annotations

from datetime import date

from django.db import transaction

from caseload.looked.selectors import Looks, who_looked
from clinic import clock
from clinic.audit import trail
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def list_looks(*, actor: Staff, number: str, first: date, last: date) -> Looks:
    """The answer, accounted for."""
    at = clock.now()
    found = who_looked(actor, number, first=first, last=last, at=at)
    detail = {"first": first.isoformat(), "last": last.isoformat(), "number": found.number}
    trail.record(actor, "looks.listed", "trail", "looks", at=at, detail=detail)
    return found
