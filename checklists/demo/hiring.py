"""The demo's sites and staff: the first lead as on any clinic's first day, and the others by that lead's hand."""

from __future__ import annotations

from datetime import date, time, timedelta

from django.conf import settings
from django.db import transaction

from checklists.adoption import steps as adoption
from checklists.demo.cast import LEAD, MAIN_GYM, PASSWORD, PIN, SECOND_LEAD, SITES, STAFF, WITH_PIN, Member
from checklists.demo.desk import EXPIRED_SINCE, ZONE
from checklists.demo.telephones import hand_out
from checklists.record import protocols
from clinic import clock
from clinic.access import Assurance
from clinic.staff import sessions
from clinic.staff.first import make_first_lead
from clinic.staff.identity import check_by_keeper, check_identity
from clinic.staff.models import Site, Staff
from clinic.staff.own_password import change_password
from clinic.staff.roles import KneeFeature, Role
from clinic.staff.services import add_registration, add_site, add_staff, authorise
from clinic.staff.tablet.pins import set_pin

JOINED_BEFORE = 420  # days before the first start
AHEAD = 200  # days that papers still hold
REGISTERED = (Role.CLINIC_LEAD, Role.THERAPIST, Role.PROSTHETIST)


def hire(day_zero: date) -> None:
    """Open both sites, take everybody on and adopt the protocol, long enough ago."""
    joined = clock.instant_of(day_zero - timedelta(days=JOINED_BEFORE), time(8), ZONE)
    with clock.at_instant(joined):
        lead = make_first_lead(
            name=LEAD.name, username=LEAD.username, password=PASSWORD, email=mail_of(LEAD), site=MAIN_GYM
        )
        for name in SITES[1:]:
            add_site(actor=lead, name=name, time_zone=ZONE)
        for member in STAFF:
            who = lead if member is LEAD else _take_on(lead, member)
            hand_out(who)
            _papers(lead, who, member, day_zero)
        _check_identities()
        for member in WITH_PIN:
            set_pin(actor=Staff.objects.get(username=member.username), pin=PIN, again=PIN)
        with transaction.atomic():
            adoption.write(lead, protocols.current(joined), clinic=settings.CLINIC_NAME, at=joined)


def mail_of(member: Member) -> str:
    """An address in a domain that is reserved for examples (RFC 2606)."""
    return f"{member.username}@alder-reach.example"


def _take_on(lead: Staff, member: Member) -> Staff:
    site = Site.objects.get(name=member.site)
    taken = add_staff(
        actor=lead,
        name=member.name,
        username=member.username,
        email=mail_of(member),
        site_id=site.pk,
        roles=[member.role],
        minutes_per_week=member.minutes_per_week,
    )
    change_password(actor=taken.staff, old=taken.password, new=PASSWORD)
    return taken.staff


def _check_identities() -> None:
    """The second lead by whoever keeps the server, all others by the second lead, who let nobody in."""
    second = check_by_keeper(username=SECOND_LEAD.username, how="the passport was shown on the first day")
    for who in Staff.objects.filter(identity_checked_at__isnull=True):
        check_identity(actor=second, staff_id=who.pk, how="the passport was shown on the first day")


def were_here(day: date) -> None:
    """Everybody was signed in on a day but the second lead, whose account the account review finds unused."""
    begin = clock.instant_of(day, time(8), ZONE)
    for who in Staff.objects.filter(is_active=True).exclude(username=SECOND_LEAD.username):
        session = sessions.begin(who, Assurance.TWO_FACTORS, at=begin, agent="computer, Linux, Firefox")
        session.seen_at = session.ended_at = begin + timedelta(hours=8)
        session.ended_why = "signed out"
        session.save(update_fields=["seen_at", "ended_at", "ended_why"])


def _papers(lead: Staff, who: Staff, member: Member, day_zero: date) -> None:
    """A registration, and authorisations for knee features; some have run out by the first start."""
    since, ends = day_zero - timedelta(days=JOINED_BEFORE), day_zero + timedelta(days=AHEAD)
    if member.role in REGISTERED:
        number = f"INV-{who.reference}"
        add_registration(actor=lead, staff_id=who.pk, number=number, starts_on=since, expires_on=ends)
    for feature in KneeFeature:
        if feature in member.features:
            authorise(actor=lead, staff_id=who.pk, feature=feature, starts_on=since, expires_on=ends)
        elif feature in member.expired:
            last = day_zero + timedelta(days=EXPIRED_SINCE)
            authorise(actor=lead, staff_id=who.pk, feature=feature, starts_on=since, expires_on=last)
