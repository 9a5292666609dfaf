"""Staff and sites: taken on, changed, given a password, ended. Roles and papers: see grants.py."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID
from zoneinfo import available_timezones

from django.db import IntegrityError, transaction
from django.utils.translation import gettext as _

from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.staff import attempts, identity, sessions, steps
from clinic.staff.grants import add_registration, authorise, end_role, grant_role, withdraw_authorisation
from clinic.staff.models import RoleTerm, Site, Staff

__all__ = [
    "Taken",
    "add_registration",
    "add_site",
    "add_staff",
    "authorise",
    "edit_staff",
    "end_role",
    "give_password",
    "grant_role",
    "withdraw_authorisation",
]


@dataclass(frozen=True, slots=True)
class Taken:
    """A member of staff and the password to hand over, which is told this once and stored nowhere."""

    staff: Staff
    password: str


@transaction.atomic(durable=True)
def add_site(*, actor: Staff, name: str, time_zone: str) -> Site:
    """Open a site. A name that stands already is refused; the zone is an IANA name."""
    at = clock.now()
    access.permit(actor, Action.MANAGE_STAFF, at)
    if time_zone not in available_timezones():
        raise Invalid(
            _("{time_zone!r} is not a time zone. It is an IANA name, such as Europe/London.").format(
                time_zone=time_zone
            )
        )
    site = Site(name=name.strip(), time_zone=time_zone)
    steps.fit(site)
    if Site.objects.filter(name__iexact=site.name).exists():
        raise Conflict(_("There is a site with the name {site} already.").format(site=site.name))
    site.save(force_insert=True)
    trail.record(actor, "site.added", "site", site.pk, at=at, detail={"name": site.name, "time_zone": time_zone})
    return site


@transaction.atomic(durable=True)
def add_staff(
    *,
    actor: Staff,
    name: str,
    username: str,
    email: str,
    site_id: UUID,
    roles: Sequence[str],
    minutes_per_week: int = 0,
) -> Taken:
    """Take somebody on. They get a password to be changed at once; it is returned once and stored nowhere."""
    at = clock.now()
    access.permit(actor, Action.MANAGE_STAFF, at)
    steps.one_hand_at_the_list()
    held, password = steps.roles_of(roles), steps.a_password()
    staff = Staff(
        reference=steps.next_reference(),
        username=username.strip(),
        name=name.strip(),
        email=email.strip(),
        site=steps.site_of(site_id),
        minutes_per_week=minutes_per_week,
        joined_at=at,
        password_given_at=at,
        let_in_by=[actor.pk],
    )
    staff.set_password(password)
    steps.fit(staff)
    steps.usable_name(staff)
    _insert(staff)
    RoleTerm.objects.bulk_create(RoleTerm(staff=staff, role=role, period=(at.date(), None)) for role in held)
    steps.accounted(actor, "staff.added", staff, at=at, roles=[str(role) for role in held])
    return Taken(staff, password)


def _insert(staff: Staff) -> None:
    try:
        with transaction.atomic():
            staff.save(force_insert=True)
    except IntegrityError as fault:
        raise Conflict(
            _("The sign-in name {username} is somebody's already. Choose another.").format(username=staff.username)
        ) from fault


@transaction.atomic(durable=True)
def edit_staff(
    *, actor: Staff, staff_id: UUID, version: int, name: str, email: str, site_id: UUID, minutes_per_week: int
) -> Staff:
    """Change what is known of somebody. Made looking at an older version: Stale."""
    at = clock.now()
    staff = steps.managed(actor, staff_id, at=at)
    steps.unless_stale(staff, version)
    wanted = {"name": name.strip(), "email": email.strip(), "site": steps.site_of(site_id)}
    fields = steps.changed(staff, {**wanted, "minutes_per_week": minutes_per_week})
    if not fields:
        return staff
    steps.fit(staff)
    staff.version += 1
    staff.save(update_fields=[*fields, "version"])
    if "site" in fields:
        sessions.end_by_pin(staff, by=actor, at=at)  # a PIN opens the tablets of one's own site
    steps.accounted(actor, "staff.edited", staff, at=at, fields=fields, version=staff.version)
    return staff


@transaction.atomic(durable=True)
def give_password(*, actor: Staff, staff_id: UUID) -> Taken:
    """Give somebody a new password to hand over: it is good for three days and must be changed at once.

    Their sessions and tokens end, and a lock-out by wrong passwords with them. Without a second factor of their own
    they sign nothing until somebody else has checked who they are.
    """
    at = clock.now()
    staff = steps.managed(actor, staff_id, at=at)
    if not staff.is_active:
        raise Conflict(_("The account of {staff} is closed.").format(staff=staff.name))
    if staff.pk == actor.pk:
        raise Conflict(_("Your own password you change on your own page."))
    password = steps.a_password()
    staff.set_password(password)
    staff.password_given_at = at
    staff.save(update_fields=["password", "password_given_at", "wrong_passwords"])
    identity.let_in_by(staff, actor)
    attempts.forget(staff.username)
    sessions.end_all_but(staff, None, by=actor, why="new password", at=at)
    steps.accounted(actor, "password.given", staff, at=at)
    return Taken(staff, password)
