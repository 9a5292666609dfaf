"""Pausing, resuming and moving an episode. Opening and closing one are facts: they live in `checklists`."""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import DateRange
from django.utils.translation import gettext as _

from caseload.episode.models import Episode, Pause
from caseload.looked.steps import looked
from caseload.words import day_words
from caseload.writes import because, fit, refused_as, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.outbox.post import publish
from clinic.staff.models import Site, Staff


@transaction.atomic(durable=True)
def pause_episode(
    *, actor: Staff, episode_id: UUID, reason: str, first_day: date | None = None, back_on: date | None = None
) -> Pause:
    """Let an episode rest from a day on (today where none is given) until `back_on`, or until further notice.

    Their therapist keeps them; no rule of the record rests: after a long gap training begins in the bars again.
    """
    at = clock.now()
    episode = _open_episode(actor, Action.PAUSE_EPISODE, episode_id, at)
    first_day = first_day or clock.local_day(at, episode.site.time_zone)
    if back_on is not None and back_on <= first_day:
        raise Invalid(_("They come back before the pause begins."))
    reason = because(reason, _("Say why: a colleague will ask."))
    pause = Pause(episode=episode, period=DateRange(first_day, back_on), reason=reason)
    fit(pause)
    with refused_as(lambda: _standing(pause), "pause_one_at_a_time"):
        pause.save(force_insert=True)
    detail = {"from": first_day.isoformat(), "back_on": back_on.isoformat() if back_on else None}
    trail.record(actor, "episode.paused", "episode", episode.pk, at=at, episode=episode.pk, detail=detail)
    return pause


@transaction.atomic(durable=True)
def resume_episode(*, actor: Staff, episode_id: UUID) -> Pause | None:
    """End the pause that stands today, so that today counts again; an episode that does not rest stays as it is."""
    at = clock.now()
    episode = _open_episode(actor, Action.PAUSE_EPISODE, episode_id, at)
    today = clock.local_day(at, episode.site.time_zone)
    pause = Pause.objects.filter(episode=episode, period__contains=today).first()
    if pause is None:
        return None
    pause.period = DateRange(pause.period.lower, today)
    pause.save(update_fields=["period"])
    trail.record(actor, "episode.resumed", "episode", episode.pk, at=at, episode=episode.pk)
    return pause


@transaction.atomic(durable=True)
def transfer_episode(*, actor: Staff, episode_id: UUID, version: int, site_id: UUID, reason: str) -> Episode:
    """Move a person and their episode to another site. Therapist and planned sessions stay as they are."""
    at = clock.now()
    episode = _open_episode(actor, Action.ASSIGN, episode_id, at)
    if episode.site_id == site_id:
        return episode
    unless_stale(episode, version, "episode", zone=episode.site.time_zone)
    site = Site.objects.filter(pk=site_id).first()
    if site is None:
        raise Invalid(_("There is no such site. Choose one of the list."))
    reason = because(reason, _("Say why: both sites will ask."))
    came_from = episode.site.name
    episode.site, episode.version = site, episode.version + 1
    episode.save(update_fields=["site", "version"])
    episode.person.site = site
    episode.person.save(update_fields=["site"])
    detail = {"version": episode.version, "from": came_from, "to": site.name, "reason": reason[:400]}
    trail.record(actor, "episode.transferred", "episode", episode.pk, at=at, episode=episode.pk, detail=detail)
    news = {"episode": str(episode.pk), "reference": episode.reference, "version": episode.version}
    publish("episode.transferred", news, at=at, dedupe_key=f"episode.transferred:{episode.pk}:{episode.version}")
    return episode


@transaction.atomic(durable=True)
def note_plan_opened(*, actor: Staff, episode_id: UUID) -> None:
    """Leave a trail row: this person's plan was looked at. Refused where the actor may not see them."""
    looked(actor, "plan.opened", episode_id, at=clock.now())


def _open_episode(actor: Staff, action: Action, episode_id: UUID, at: datetime) -> Episode:
    rows = Episode.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "person")
    episode = access.get(actor, action, rows, at=at, pk=episode_id)
    if episode.closed_at is not None:
        raise Conflict(_("The episode of {person} is closed.").format(person=episode.person.full_name))
    return episode


def _standing(wanted: Pause) -> Conflict:
    """The refusal for an overlap: the pause that stands."""
    row = Pause.objects.filter(episode_id=wanted.episode_id, period__overlap=wanted.period).order_by("period").first()
    if row is None:
        return Conflict(_("Somebody else paused this a moment ago. Look again, then decide."))
    first, back = day_words(row.period.lower), row.period.upper
    said = _("It is paused already, from {first} to {last}.") if back else _("It is paused already, from {first} on.")
    return Conflict(said.format(first=first, last=day_words(back) if back else ""), code="pause_overlaps")
