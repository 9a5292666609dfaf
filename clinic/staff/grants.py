"""Roles and papers: held for a time, granted and ended by a clinic lead."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from clinic import access, clock
from clinic.access import Action
from clinic.errors import Conflict, Invalid, NotFound
from clinic.staff import steps
from clinic.staff.models import Authorisation, Registration, RoleTerm, Staff
from clinic.staff.roles import Role


@transaction.atomic(durable=True)
def grant_role(*, actor: Staff, staff_id: UUID, role: str, starts_on: date, ends_on: date | None = None) -> RoleTerm:
    """Give a role from a day on, up to and including another or until further notice. Held already then: Conflict."""
    at = clock.now()
    staff = steps.managed(actor, staff_id, at=at)
    (held,) = steps.roles_of([role])
    if ends_on is not None:
        steps.in_order(starts_on, ends_on)
    upper = date.fromordinal(ends_on.toordinal() + 1) if ends_on else None
    term = RoleTerm(staff=staff, role=held, period=(starts_on, upper))
    try:
        with transaction.atomic():
            term.save(force_insert=True)
    except IntegrityError as fault:
        raise Conflict(
            _("{staff} is {label} on some of these days already.").format(staff=staff.name, label=held.label)
        ) from fault
    until = ends_on.isoformat() if ends_on else None
    steps.accounted(actor, "role.granted", staff, at=at, role=str(held), starts_on=starts_on.isoformat(), ends_on=until)
    return term


@transaction.atomic(durable=True)
def end_role(*, actor: Staff, term_id: UUID, last_day: date) -> RoleTerm:
    """End a role after a day. A term that would then have no day left goes altogether."""
    at = clock.now()
    steps.one_hand_at_the_list()
    term = RoleTerm.objects.select_related("staff").filter(pk=term_id).first()
    if term is None:
        raise NotFound(_("There is no such role to end."))
    staff = steps.managed(actor, term.staff_id, at=at)
    upper = date.fromordinal(last_day.toordinal() + 1)
    if term.role == Role.CLINIC_LEAD and upper <= at.date():
        steps.another_lead_stays(staff, at.date())
    if upper <= term.period.lower:
        term.delete()
    else:
        term.period = (term.period.lower, upper)
        term.save(update_fields=["period"])
    steps.accounted(actor, "role.ended", staff, at=at, role=term.role, last_day=last_day.isoformat())
    return term


@transaction.atomic(durable=True)
def add_registration(*, actor: Staff, staff_id: UUID, number: str, starts_on: date, expires_on: date) -> Registration:
    """Write a professional registration down, with its last day."""
    at = clock.now()
    staff = steps.managed(actor, staff_id, at=at)
    steps.in_order(starts_on, expires_on)
    paper = Registration(staff=staff, number=number.strip(), starts_on=starts_on, expires_on=expires_on)
    steps.fit(paper)
    paper.save(force_insert=True)
    steps.accounted(actor, "registration.added", staff, at=at, expires_on=expires_on.isoformat())
    return paper


@transaction.atomic(durable=True)
def authorise(*, actor: Staff, staff_id: UUID, feature: str, starts_on: date, expires_on: date) -> Authorisation:
    """Authorise somebody for a knee feature, up to and including a day (domain.md: granted by a clinic lead)."""
    at = clock.now()
    staff = steps.managed(actor, staff_id, at=at)
    steps.in_order(starts_on, expires_on)
    if expires_on < at.date():
        raise Invalid(_("The last day is past already: it would authorise nobody."))
    knee = steps.feature_of(feature)
    paper = Authorisation(staff=staff, feature=knee, granted_by=actor, starts_on=starts_on, expires_on=expires_on)
    paper.save(force_insert=True)
    detail = {"feature": str(knee), "expires_on": expires_on.isoformat()}
    steps.accounted(actor, "authorisation.granted", staff, at=at, **detail)
    return paper


@transaction.atomic(durable=True)
def withdraw_authorisation(*, actor: Staff, authorisation_id: UUID, reason: str) -> Authorisation:
    """Take an authorisation back at once, with the reason. Withdrawn already: nothing changes."""
    at = clock.now()
    access.permit(actor, Action.MANAGE_STAFF, at)
    found = Authorisation.objects.select_for_update(of=("self",)).select_related("staff").filter(pk=authorisation_id)
    paper = found.first()
    if paper is None:
        raise NotFound(_("There is no such authorisation."))
    if paper.withdrawn_at is not None:
        return paper
    if not reason.strip():
        raise Invalid(_("Say why it is withdrawn: it will be read later."))
    paper.withdrawn_at = at
    paper.save(update_fields=["withdrawn_at"])
    detail = {"feature": paper.feature, "reason": reason.strip()[:400]}
    steps.accounted(actor, "authorisation.withdrawn", paper.staff, at=at, **detail)
    return paper
