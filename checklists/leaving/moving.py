"""Moving somebody to another site, or to other roles, from a day on: in view of what no longer reaches them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from checklists.leaving.reach import losses
from clinic import clock
from clinic.errors import Conflict, Invalid, Stale
from clinic.staff import moves, steps
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def move_staff(
    *, actor: Staff, staff_id: UUID, on_day: date, site_id: UUID, roles: Sequence[str], seen: str = ""
) -> Staff:
    """From a day on they work at this site and hold exactly these roles. It takes effect on that day, not before.

    `seen` is the digest of the losses that the actor was shown (checklists/leaving/reach.py). Where there are some and
    it is not theirs, nothing has happened: Stale.
    """
    at = clock.now()
    steps.one_hand_at_the_list()
    staff = steps.managed(actor, staff_id, at=at)
    if not staff.is_active:
        raise Conflict(_("The account of {name} is closed.").format(name=staff.name))
    site, held = steps.site_of(site_id), steps.roles_of(roles)
    if on_day < clock.local_day(at, staff.site.time_zone):
        raise Invalid(_("That day is past. A change takes effect today at the earliest."))
    if not held:
        raise Invalid(_("Without a role they could do nothing. To end it all, close the account."))
    if losses(actor, staff_id, on_day=on_day, site_id=site_id, roles=roles, at=at).digest != seen:
        raise Stale(_("Look at what no longer reaches them from that day on, then move them."))
    moves.roles_from(staff, held, on_day, actor=actor, at=at)
    moves.site_from(staff, site, on_day, actor=actor, at=at)
    steps.accounted(
        actor,
        "staff.move_planned",
        staff,
        at=at,
        on_day=on_day.isoformat(),
        site=site.name,
        roles=[str(r) for r in held],
    )
    return staff
