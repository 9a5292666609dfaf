"""Whether somebody who is signed in must add a second factor before anything else."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext_lazy

from clinic.access import Assurance, assurance
from clinic.staff.factors.policy import Moment, requires
from clinic.staff.models import Staff

FIRST = gettext_lazy("Your role needs a second factor. Add one first, on the page 'Your sign-in'.")


def must_add_one(staff: Staff, at: datetime) -> bool:
    """Whether the roles of today need two factors at the sign-in, and fewer were shown."""
    return assurance.shown() == Assurance.PASSWORD and requires(staff.roles_on(at.date()), Moment.SIGN_IN)
