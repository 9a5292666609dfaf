"""The very first account, without which nobody could let anybody in."""

from __future__ import annotations

from zoneinfo import available_timezones

from django.db import transaction

from clinic import clock
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.staff import steps
from clinic.staff.models import RoleTerm, Site, Staff
from clinic.staff.own_password import require_good
from clinic.staff.roles import Role


@transaction.atomic(durable=True)
def make_first_lead(
    *, name: str, username: str, password: str, email: str = "", site: str, time_zone: str = "Europe/London"
) -> Staff:
    """Make the first clinic lead and their site. Refused as soon as somebody is a lead: leads make all others."""
    at = clock.now()
    steps.one_hand_at_the_list()
    day = at.date()
    if RoleTerm.objects.filter(role=Role.CLINIC_LEAD, period__contains=day, staff__is_active=True).exists():
        raise Conflict("There is a clinic lead already. They make all other accounts, on the Staff page.")
    if time_zone not in available_timezones():
        raise Invalid(f"{time_zone!r} is not a time zone. It is an IANA name, such as Europe/London.")
    place = Site.objects.filter(name__iexact=site.strip()).first() or Site(name=site.strip(), time_zone=time_zone)
    lead = Staff(
        reference=steps.next_reference(),
        username=username.strip(),
        name=name.strip(),
        email=email.strip(),
        site=place,
        joined_at=at,
        identity_checked_at=at,
        identity_check="the first account: whoever keeps the server made it for them",
    )
    require_good(password, lead)
    lead.set_password(password)
    steps.fit(place)
    steps.fit(lead)
    steps.usable_name(lead)
    place.save()
    lead.save(force_insert=True)
    RoleTerm.objects.create(staff=lead, role=Role.CLINIC_LEAD, period=(day, None))
    trail.record(None, "staff.first_lead_made", "staff", lead.reference, at=at, detail={"site": place.name})
    return lead
