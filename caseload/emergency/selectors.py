"""Emergency accesses as pages show them: one's own that run, and those that a lead has to judge, with what was seen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from caseload.emergency.models import EmergencyAccess
from clinic import access
from clinic.access import Action
from clinic.access.standing import beyond
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff

MOST = 100


@dataclass(frozen=True, slots=True)
class Seen:
    """One thing that was opened in that hour."""

    at: datetime
    what: str


def running(actor: Staff, *, at: datetime) -> list[EmergencyAccess]:
    """What the actor may read now by emergency access."""
    rows = EmergencyAccess.objects.filter(staff=actor, period__contains=at).select_related("episode__person")
    return list(rows.order_by("period"))


def emergencies(actor: Staff, *, at: datetime) -> list[EmergencyAccess]:
    """The last hundred: those that wait for a judgement first, then the newest."""
    rows = access.scoped(actor, Action.JUDGE_EMERGENCY, EmergencyAccess.objects.all(), at=at)
    access.permit(actor, Action.JUDGE_EMERGENCY, at)
    told = rows.select_related("episode__person", "staff", "judged_by")
    return sorted(told.order_by("-period")[:MOST], key=lambda row: row.judged_at is not None)


def emergency(actor: Staff, emergency_id: UUID, *, at: datetime) -> tuple[EmergencyAccess, list[Seen]]:
    """One of them, and what was opened with it. NotFound or Denied where it is not the actor's to judge."""
    rows = EmergencyAccess.objects.select_related("episode__person", "staff", "judged_by")
    row = access.get(actor, Action.JUDGE_EMERGENCY, rows, at=at, pk=emergency_id)
    opened = TrailRow.objects.filter(
        actor=row.staff, episode=row.episode_id, at__gte=row.period.lower, at__lt=row.period.upper
    ).order_by("number")
    with beyond("a lead who judges an emergency access reads what was opened in its hour"):
        return row, [Seen(one.at, str(one.detail.get("page") or one.verb.replace(".", " "))) for one in opened]
