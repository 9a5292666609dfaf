"""Saying that the accounts were looked through."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext as _

from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Invalid
from clinic.staff.models import Staff
from clinic.staff.review.models import AccountReview
from clinic.staff.review.selectors import account_review

LONGEST = 2000


@transaction.atomic(durable=True)
def note_review(*, actor: Staff, note: str) -> AccountReview:
    """The actor has looked through the accounts, and says what came of it."""
    at = clock.now()
    access.permit(actor, Action.MANAGE_STAFF, at)
    if not note.strip():
        raise Invalid(_("Say what came of it: what was recalled, renewed or asked about, or that all is well."))
    if len(note) > LONGEST:
        raise Invalid(_("That is longer than {longest} letters. Say the main thing.").format(longest=LONGEST))
    found = account_review(actor, at=at).findings
    review = AccountReview(by=actor, at=at, findings=found, note=note.strip())
    review.save(force_insert=True)
    trail.record(actor, "accounts.reviewed", "account_review", review.pk, at=at, detail={"findings": found})
    return review
