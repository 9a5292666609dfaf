"""What views share: who asks, and how a refusal comes back to the form that caused it."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from django.forms import BaseForm
from django.http import HttpRequest

from clinic.access.assurance import NeedsMore
from clinic.errors import Denied, NotFound, Refusal

if TYPE_CHECKING:
    from clinic.staff.models import Staff


def signed_in(request: HttpRequest) -> Staff:
    """Who asks. Only for views that are not open: there, nobody else comes this far."""
    return cast("Staff", request.user)


def refused(form: BaseForm, refusal: Refusal) -> int:
    """Say a refusal of the service at the head of its form and return the status of the page.

    What is not there, or not theirs, is not a matter of what was typed: that goes on to the error page and the trail.
    """
    if type(refusal) in (Denied, NotFound, NeedsMore):
        raise refusal
    form.add_error(None, refusal.sentence)
    for reason in refusal.reasons:
        if reason != refusal.sentence:
            form.add_error(None, reason)
    return refusal.status
