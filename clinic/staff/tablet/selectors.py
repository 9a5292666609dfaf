"""Whose names a tablet shows, which tablets there are, and how one's own PIN stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff
from clinic.staff.session_models import Pin, Tablet
from clinic.staff.tablet import pins

UNSEEN_AFTER = timedelta(days=14)  # the clinic's own default: a tablet that nobody has used for so long is looked for


@dataclass(frozen=True, slots=True)
class Named:
    """A colleague on the tablet's first page."""

    id: UUID
    name: str
    roles: str
    locked: bool


@dataclass(frozen=True, slots=True)
class TabletRow:
    """A tablet on the lead's list. `standing`: waiting, enrolled, unseen, revoked."""

    id: UUID
    name: str
    site: str
    standing: str
    device: str
    since: datetime
    seen_at: datetime | None
    open_now: int
    remark: str


@dataclass(frozen=True, slots=True)
class OwnPin:
    """How one's own PIN stands."""

    set_at: datetime | None
    used_at: datetime | None
    locked_at: datetime | None
    may_have_one: bool


def names(tablet: Tablet, *, at: datetime) -> list[Named]:
    """The staff of a tablet's site who have a PIN and whose roles record, by name."""
    rows = Staff.objects.filter(site_id=tablet.site_id, is_active=True, pin__isnull=False).select_related("pin")
    return [_named(staff, at) for staff in rows.order_by("name") if pins.may_have_one(staff, at)]


def one_of(tablet: Tablet, staff_id: UUID, *, at: datetime) -> Named | None:
    """One of them."""
    return next((row for row in names(tablet, at=at) if row.id == staff_id), None)


def tablets(actor: Staff, *, at: datetime) -> list[TabletRow]:
    """Every tablet there is or was: those in use first, by site and name."""
    access.permit(actor, Action.MANAGE_TABLETS, at)
    rows = Tablet.objects.select_related("site", "revoked_by").order_by("site__name", "name", "added_at")
    listed = [_row(tablet, at) for tablet in rows]
    return sorted(listed, key=lambda row: row.standing == "revoked")


def tablet_row(actor: Staff, tablet_id: UUID, *, at: datetime) -> TabletRow | None:
    """One of them."""
    return next((row for row in tablets(actor, at=at) if row.id == tablet_id), None)


def own_pin(actor: Staff, *, at: datetime) -> OwnPin:
    """The actor's own."""
    row = Pin.objects.filter(staff=actor).first()
    if row is None:
        return OwnPin(None, None, None, pins.may_have_one(actor, at))
    return OwnPin(row.set_at, row.used_at, row.locked_at, pins.may_have_one(actor, at))


def _named(staff: Staff, at: datetime) -> Named:
    roles = ", ".join(sorted(str(role.label) for role in staff.roles_on(at.date())))
    return Named(staff.pk, staff.name, roles, staff.pin.locked_at is not None)


def _row(tablet: Tablet, at: datetime) -> TabletRow:
    return TabletRow(
        id=tablet.pk,
        name=tablet.name,
        site=tablet.site.name,
        standing=_standing(tablet, at),
        device=tablet.agent,
        since=tablet.enrolled_at or tablet.added_at,
        seen_at=tablet.seen_at,
        open_now=tablet.sessions.filter(ended_at__isnull=True, seen_at__gt=at - timedelta(minutes=15)).count(),
        remark=f"{tablet.revoked_why} ({tablet.revoked_by})" if tablet.revoked_by else "",
    )


def _standing(tablet: Tablet, at: datetime) -> str:
    if tablet.revoked_at is not None:
        return "revoked"
    if tablet.enrolled_at is None:
        return "waiting" if tablet.code_until is not None and tablet.code_until >= at else "expired"
    return "unseen" if tablet.seen_at is None or at - tablet.seen_at > UNSEEN_AFTER else "enrolled"
