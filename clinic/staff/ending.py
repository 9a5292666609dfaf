"""The end of an account, everywhere at once. An inner step: what is in their hands is handed on by who calls it."""

from __future__ import annotations

from datetime import datetime

from clinic.staff import sessions, steps
from clinic.staff.factors.models import in_use, void_codes
from clinic.staff.factors.steps import taken_away
from clinic.staff.models import Staff
from clinic.staff.tablet.pins import end_pin


def end_account(staff: Staff, *, actor: Staff, at: datetime, reason: str) -> None:
    """Close an account: sessions, tokens, PIN, second factors and recovery codes end with it, and a sign-in under way
    finds it closed. Everything that they did stays theirs. The caller has locked the row and the staff list.
    """
    steps.another_lead_stays(staff, at.date())
    staff.is_active, staff.left_at, staff.version = False, at, staff.version + 1
    staff.save(update_fields=["is_active", "left_at", "version"])
    end_pin(staff, by=actor, at=at)
    ended = sessions.end_all_but(staff, None, by=actor, why="account closed", at=at)
    for factor in in_use(staff).select_for_update():
        taken_away(actor, factor, "account closed", at=at)
    void_codes(staff, at)
    steps.accounted(actor, "staff.ended", staff, at=at, reason=reason[:400], sessions_ended=ended)
