"""Taking referrals, putting them right, and ending those that come to nothing. Assigning one opens an episode: see
`checklists`."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.episode.models import Side
from caseload.person.details import PersonDetails
from caseload.person.erased import unless_erased
from caseload.person.models import Person
from caseload.person.steps import new_person
from caseload.referral.details import ReferralDetails
from caseload.referral.models import Level, Referral
from caseload.referral.selectors import unless_done
from caseload.writes import because, differences, fit, refused_as, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.staff.models import Site, Staff
from clinic.staff.roles import KneeFeature

RESISTANCE = "resistance"  # an adjustable stance-flexion resistance: a feature of a knee that needs no authorisation


@transaction.atomic(durable=True)
def take_referral(
    *,
    actor: Staff,
    site_id: UUID,
    details: ReferralDetails,
    person_id: UUID | None = None,
    person: PersonDetails | None = None,
) -> Referral:
    """Put somebody on the waiting list: a person known here (`person_id`) or a new one (`person`), one of the two.

    Refused for somebody who waits already, or who is in care.
    """
    at = clock.now()
    access.permit(actor, Action.TAKE_REFERRAL, at)
    site = _site(site_id)
    _sensible(details, today=clock.local_day(at, site.time_zone))
    who = _who(actor, site, person_id, person, at=at)
    referral = Referral(
        person=who,
        site=site,
        received_on=details.received_on,
        referrer=details.referrer,
        reason=details.reason,
        urgency=details.urgency,
        level=details.level,
        side=details.side,
        features=_knee(details),
        taken_by=actor,
        taken_at=at,
    )
    fit(referral)
    with refused_as(
        lambda: Conflict(_("{who} is on the waiting list already.").format(who=who.full_name)),
        "referral_one_waiting_a_person",
    ):
        referral.save(force_insert=True)
    trail.record(actor, "referral.taken", "referral", referral.pk, at=at, detail={"version": 1, "number": who.number})
    return referral


@transaction.atomic(durable=True)
def change_referral(
    *, actor: Staff, referral_id: UUID, version: int, site_id: UUID, details: ReferralDetails
) -> Referral:
    """Put right what a referral says whose person still waits. From an older version: Stale, with what changed."""
    at = clock.now()
    rows = Referral.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "person")
    referral = access.get(actor, Action.TAKE_REFERRAL, rows, at=at, pk=referral_id)
    unless_done(referral)
    unless_stale(referral, version, "referral", zone=referral.site.time_zone)
    site = _site(site_id)
    _sensible(details, today=clock.local_day(at, site.time_zone))
    wanted = {name: getattr(details, name) for name in ReferralDetails.__dataclass_fields__}
    changed = differences(referral, {**wanted, "features": _knee(details), "site": site})
    if not changed:
        return referral
    fit(referral)
    referral.version += 1
    referral.save(update_fields=[*changed, "version"])
    detail = {"version": referral.version, "fields": changed}
    trail.record(actor, "referral.changed", "referral", referral.pk, at=at, detail=detail)
    return referral


@transaction.atomic(durable=True)
def end_referral(*, actor: Staff, referral_id: UUID, version: int, reason: str) -> Referral:
    """Take somebody off the waiting list who will not be seen here, with the reason. The same again changes nothing."""
    at = clock.now()
    rows = Referral.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "person")
    referral = access.get(actor, Action.TAKE_REFERRAL, rows, at=at, pk=referral_id)
    if referral.ended_at is not None:
        return referral
    if referral.accepted_at is not None:
        raise Conflict(
            _("{person} has been assigned meanwhile. Close the episode instead.").format(
                person=referral.person.full_name
            )
        )
    unless_stale(referral, version, "referral", zone=referral.site.time_zone)
    reason = because(reason, _("Say why they will not be seen here."))
    referral.ended_at, referral.end_reason, referral.version = at, reason, referral.version + 1
    fit(referral)
    referral.save(update_fields=["ended_at", "end_reason", "version"])
    trail.record(actor, "referral.ended", "referral", referral.pk, at=at, detail={"version": referral.version})
    return referral


def _who(actor: Staff, site: Site, person_id: UUID | None, person: PersonDetails | None, *, at: datetime) -> Person:
    """The person, locked where they are known here and not in care, or written down where they are new."""
    if (person_id is None) == (person is None):
        raise Invalid(_("Give either somebody who is known here, or the details of somebody new."))
    if person is not None:
        return new_person(person, site, actor=actor, at=at)
    known = Person.objects.select_for_update(no_key=True, of=("self",)).select_related("site")
    who = unless_erased(access.get(actor, Action.TAKE_REFERRAL, known, at=at, pk=person_id))
    if who.episodes.filter(closed_at__isnull=True).exists():
        raise Conflict(_("{who} is in care already. Write what is new into their plan.").format(who=who.full_name))
    return who


def _site(site_id: UUID) -> Site:
    site = Site.objects.filter(pk=site_id).first()
    if site is None:
        raise Invalid(_("There is no such site. Choose one of the list."))
    return site


def _knee(details: ReferralDetails) -> list[str] | None:
    return None if details.features is None else sorted(set(details.features))


def _sensible(details: ReferralDetails, *, today: date) -> None:
    """A day to come, a level that contradicts the side, or a feature that no knee has is refused. A level that nobody
    knows yet contradicts no side."""
    said = []
    if details.received_on > today:
        said.append(_("received on: a day to come"))
    if details.level != Level.UNKNOWN and (details.level == Level.BILATERAL) != (details.side == Side.BOTH):
        said.append(_("side: 'both sides' goes with the level 'both legs', and with no other"))
    unknown = set(details.features or ()) - {*KneeFeature.values, RESISTANCE}
    if unknown:
        said.append(_("features: unknown: {list}").format(list=", ".join(sorted(unknown))))
    if said:
        raise Invalid(_("The referral cannot be taken like this."), reasons=said)
