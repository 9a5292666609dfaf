"""Site and roles from a day on. Roles are terms by date; a site changes when its day has come, by the worker's hand.

Inner steps, and what the worker calls; the service, which knows the caseload too, is checklists/leaving/moving.py.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet

from clinic import clock
from clinic.audit import trail
from clinic.staff import sessions, steps
from clinic.staff.models import RoleTerm, Site, Staff
from clinic.staff.move_models import SiteMove
from clinic.staff.roles import Role


def roles_from(staff: Staff, wanted: Iterable[Role], on_day: date, *, actor: Staff, at: datetime) -> None:
    """Hold exactly these roles from a day on: others end the day before, new ones begin on it. The list is locked."""
    keep = set(wanted)
    if Role.CLINIC_LEAD not in keep:
        steps.another_lead_stays(staff, on_day)
    for term in staff.role_terms.exclude(role__in=keep).filter(period__overlap=(on_day, None)):
        if term.period.lower is not None and term.period.lower >= on_day:
            term.delete()
        else:
            term.period = (term.period.lower, on_day)
            term.save(update_fields=["period"])
        steps.accounted(actor, "role.ended", staff, at=at, role=term.role, before=on_day.isoformat())
    held = set(staff.role_terms.filter(period__contains=on_day).values_list("role", flat=True))
    for role in sorted(keep - held):
        later = staff.role_terms.filter(role=role, period__startswith__gt=on_day).order_by("period").first()
        RoleTerm.objects.create(staff=staff, role=role, period=(on_day, later.period.lower if later else None))
        steps.accounted(actor, "role.granted", staff, at=at, role=str(role), starts_on=on_day.isoformat(), ends_on=None)


def site_from(staff: Staff, site: Site, on_day: date, *, actor: Staff, at: datetime) -> SiteMove | None:
    """Work at a site from a day on: at once where the day has come, else planned. A plan before it is void."""
    for earlier in waiting().filter(staff=staff).select_for_update(of=("self",)):
        earlier.cancelled_at = at
        earlier.save(update_fields=["cancelled_at"])
        steps.accounted(actor, "site_move.cancelled", staff, at=at, site=earlier.site.name)
    if site.pk == staff.site_id:
        return None
    move = SiteMove(staff=staff, site=site, on_day=on_day, planned_by=actor, planned_at=at)
    move.save(force_insert=True)
    steps.accounted(actor, "site_move.planned", staff, at=at, site=site.name, on_day=on_day.isoformat())
    if on_day <= clock.local_day(at, site.time_zone):
        _done(move, staff, by=actor, at=at)
    return move


def waiting() -> QuerySet[SiteMove]:
    """The moves that are still to come."""
    return SiteMove.objects.filter(done_at__isnull=True, cancelled_at__isnull=True).select_related("site")


def move_whose_day_has_come(at: datetime) -> int:
    """What the worker does: every move whose day has begun where the new site is; returns how many."""
    done = 0
    for found in waiting().filter(on_day__lte=clock.local_day(at, "Pacific/Kiritimati")).select_related("site"):
        with transaction.atomic():
            move = waiting().select_for_update(of=("self",), skip_locked=True).filter(pk=found.pk).first()
            if move is not None and move.on_day <= clock.local_day(at, move.site.time_zone):
                staff = Staff.objects.select_for_update(of=("self",)).get(pk=move.staff_id)
                _done(move, staff, by=None, at=at)
                done += 1
    return done


def _done(move: SiteMove, staff: Staff, *, by: Staff | None, at: datetime) -> None:
    """They work there now. A PIN opens tablets of one's own site only: what it had opened elsewhere ends."""
    move.done_at = at
    move.save(update_fields=["done_at"])
    staff.site, staff.version = move.site, staff.version + 1
    staff.save(update_fields=["site", "version"])
    sessions.end_by_pin(staff, by=by, at=at)
    detail = {"site": move.site.name, "planned_by": move.planned_by.reference}
    trail.record(by, "staff.moved", "staff", staff.reference, at=at, detail=detail)
