"""Opening and closing an episode, changing a setting, reviewing a fall: plans and facts in one transaction."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime
from uuid import UUID, uuid4

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.assignment.steps import begin_assignment, carrier, end_standing
from caseload.episode.models import Episode
from caseload.referral.models import Referral
from caseload.visit.models import Visit, VisitState
from caseload.writes import unless_stale
from checklists.episode.changing import Told, Written, record_change
from checklists.episode.steps import make_episode
from checklists.record import protocols
from checklists.record.models import Head
from checklists.record.one import fact, happened, write_one
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def open_episode(
    *,
    actor: Staff,
    referral_id: UUID,
    therapist_id: UUID,
    first_day: date | None = None,
    reason: str = "",
    version: int | None = None,
) -> Episode:
    """Turn a referral into an episode that a therapist carries from now on. The same referral again gives the same
    episode.

    `first_day`, where the person was first seen before today; a later day is refused. `version`: of the referral as
    it was read, whose knee decides who may teach it; Stale where it was changed meanwhile.
    """
    at = clock.now()
    access.permit(actor, Action.OPEN_EPISODE, at)
    rows = Referral.objects.select_for_update(no_key=True, of=("self",)).select_related("person", "site")
    referral = access.get(actor, Action.ASSIGN, rows, at=at, pk=referral_id)
    if referral.accepted_at is not None:
        return Episode.objects.get(referral=referral)
    if referral.ended_at is not None:
        raise Conflict(_("This referral has been ended. Take a new one if the person comes after all."))
    if version is not None:
        unless_stale(referral, version, "referral", zone=referral.site.time_zone)
    if referral.person.episodes.filter(closed_at__isnull=True).exists():
        raise Conflict(_("{person} is in care already.").format(person=referral.person.full_name), code="episode_open")
    therapist = carrier(therapist_id, at)
    opened = _first_instant(first_day, referral, at)
    episode = make_episode(person=referral.person, site=referral.site, referral=referral, at=at)
    begin_assignment(episode, therapist, actor=actor, at=at, since=opened, reason=reason)
    referral.accepted_at, referral.version = at, referral.version + 1
    referral.save(update_fields=["accepted_at", "version"])
    opening = fact(
        "episode_opened",
        opened,
        side=referral.side,
        features=list(referral.features or ()),  # of an unknown knee none: no skill may count on one
        protocol=protocols.current_name(),
    )
    write_one(actor, episode.pk, opening, at=at, permitted=True)
    detail = {"referral": str(referral.pk), "reference": episode.reference, "number": referral.person.number}
    trail.record(actor, "episode.opened", "episode", episode.reference, at=at, episode=episode.pk, detail=detail)
    episode.refresh_from_db()
    return episode


def _first_instant(first_day: date | None, referral: Referral, at: datetime) -> datetime:
    zone = referral.site.time_zone
    if first_day is None or first_day == clock.local_day(at, zone):
        return at
    if first_day > at.date():
        raise Invalid(
            _("The first day lies ahead. Open the episode when the person comes."), reasons=["first day: to come"]
        )
    return clock.day_starts(first_day, zone)


@transaction.atomic(durable=True)
def close_episode(*, actor: Staff, episode_id: UUID, reason: str = "", entry_id: UUID | None = None) -> Written:
    """Discharge: the fact that the episode ended, and the end of what was planned. Closed already: Conflict."""
    at = clock.now()
    # in the order of the write path, head before episode: otherwise each could wait for the other
    list(Head.objects.select_for_update(no_key=True).filter(pk=episode_id))
    rows = Episode.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "person")
    episode = access.get(actor, Action.CLOSE_EPISODE, rows, at=at, pk=episode_id)
    if episode.closed_at is not None:
        raise Conflict(_("The episode of {person} is closed already.").format(person=episode.person.full_name))
    entry_id = entry_id or uuid4()
    closing = fact("episode_closed", at, id_=entry_id, reason=reason.strip())
    recorded = write_one(actor, episode.pk, closing, at=at, permitted=True)
    end_standing(episode, actor=actor, at=at, end=at, reason="discharged")
    to_come = Visit.objects.filter(episode=episode, state=VisitState.PLANNED, starts_at__gt=at)
    to_come.update(state=VisitState.CANCELLED)
    episode.planned_reviews.filter(done_at__isnull=True, cancelled_at__isnull=True).update(cancelled_at=at)
    trail.record(actor, "episode.closed", "episode", episode.reference, at=at, episode=episode.pk)
    return Written(entry_id, recorded)


@transaction.atomic(durable=True)
def change_setting(
    *,
    actor: Staff,
    episode_id: UUID,
    setting: str,
    to: str,
    before: str = "",
    features: Sequence[str] | None = None,
    knee: str | None = None,
    note: str = "",
    entry_id: UUID | None = None,
    request_id: UUID | None = None,
    version: int = 0,
    made: datetime | None = None,
    shown: str | None = None,
) -> Written:
    """Record a change of a setting or component, and answer the request that asked for it.

    `features` of the new knee, with the setting `knee` only. `version` is of the request as the prosthetist saw it.
    `made`: when, where that was earlier; after a week it waits for a clinic lead, and so does the request. `shown`: the
    digest of what it would cost, from whoever was shown that; Stale where it no longer does. Of a closed episode:
    Conflict. It is a fact alone: `exchange_part` puts the part in the register as well.
    """
    told = Told(
        setting=setting,
        to=to,
        before=before,
        features=features,
        knee=knee,
        note=note,
        entry_id=entry_id,
        request_id=request_id,
        version=version,
        made=made,
        shown=shown,
    )
    return record_change(actor, episode_id, told, at=clock.now())


@transaction.atomic(durable=True)
def review_fall(
    *,
    actor: Staff,
    episode_id: UUID,
    of: Sequence[UUID],
    outcome: str | None,
    next_due: date | None = None,
    note: str = "",
    entry_id: UUID | None = None,
    settles: Collection[UUID] | None = None,
) -> Written:
    """Record a review: of falls with its outcome, or a routine one (`of` empty, no outcome). It settles the planned
    reviews of `settles`; None: those that it fulfils."""
    at = clock.now()
    entry_id = entry_id or uuid4()
    review = fact(
        "review",
        happened(entry_id, episode_id, at),
        id_=entry_id,
        of=[str(one) for one in of],
        outcome=outcome,
        next_due=next_due.isoformat() if next_due else None,
        note=note.strip(),
    )
    return Written(entry_id, write_one(actor, episode_id, review, at=at, permitted=False, settles=settles))
