"""The code that is good now, for the pages of the demo: a stranger who tries it needs no telephone. Never elsewhere."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings

from clinic.staff.factors import totp, vault
from clinic.staff.factors.models import Kind, in_use
from clinic.staff.models import RoleTerm, Staff
from clinic.staff.roles import Role


def code_now(staff: Staff, at: datetime) -> str:
    """In the demo, a code of theirs that was not used yet: this step's, or the next one's. Elsewhere nothing at all."""
    if not settings.DEMO:
        return ""
    row = in_use(staff).filter(kind=Kind.TOTP).order_by("added_at").first()
    if row is None:
        return ""
    now = totp.step_of(at)
    step = now if row.last_step is None or row.last_step < now else min(row.last_step + 1, now + totp.DRIFT)
    return totp.code_of(vault.opened(bytes(row.secret or b""), row.about), step)


def codes_of_leads(but: Staff, at: datetime) -> str:
    """In the demo, the codes of the other clinic leads by their sign-in names: one of them countersigns at this screen.
    Elsewhere nothing at all."""
    if not settings.DEMO:
        return ""
    held = RoleTerm.objects.filter(role=Role.CLINIC_LEAD, period__contains=at.date(), staff__is_active=True)
    leads = [term.staff for term in held.exclude(staff=but).select_related("staff").order_by("staff__username")]
    return ", ".join(f"{lead.username} {code}" for lead in leads if (code := code_now(lead, at)))
