"""Planning sessions, one or a weekly series, and saying what became of them."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.assignment.models import Assignment
from caseload.assignment.steps import carrier
from caseload.episode.models import Episode
from caseload.visit.models import Visit, VisitState
from caseload.words import instant_words
from caseload.writes import fit, refused_as, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.staff.models import Staff

SHORTEST, LONGEST = 5, 480  # minutes, as the database has it
LONGEST_SERIES = 26  # weeks: half a year; beyond that nobody plans, they hope


@transaction.atomic(durable=True)
def plan_visits(
    *,
    actor: Staff,
    episode_id: UUID,
    day: date,
    wall: time,
    weeks: int = 1,
    minutes: int = 45,
    staff_id: UUID | None = None,
    note: str = "",
) -> list[Visit]:
    """Plan a session, or the same weekday and wall-clock time for a number of weeks (the clocks may change in between).

    With the therapist who carries the person, where nobody is named. All or nothing: a session of theirs that begins
    at one of these times already is named and nothing is planned.
    """
    at = clock.now()
    rows = Episode.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "person")
    episode = access.get(actor, Action.PLAN_VISIT, rows, at=at, pk=episode_id)
    if episode.closed_at is not None:
        raise Conflict(_("The episode of {person} is closed.").format(person=episode.person.full_name))
    if not 1 <= weeks <= LONGEST_SERIES:
        raise Invalid(_("A series has 1 to {longest_series} weeks.").format(longest_series=LONGEST_SERIES))
    staff = carrier(staff_id, at) if staff_id else _carried_by(episode, at)
    starts = [clock.instant_of(day + timedelta(weeks=week), wall, episode.site.time_zone) for week in range(weeks)]
    visits = [
        Visit(episode=episode, site=episode.site, staff=staff, starts_at=start, minutes=minutes, note=note.strip())
        for start in starts
    ]
    fit(visits[0])
    if not SHORTEST <= minutes <= LONGEST:
        raise Invalid(_("A session lasts {shortest} to {longest} minutes.").format(shortest=SHORTEST, longest=LONGEST))
    with refused_as(lambda: _standing(episode, starts), "visit_not_twice"):
        Visit.objects.bulk_create(visits)
    detail = {"version": 1, "first": starts[0].isoformat(), "weeks": weeks, "staff": staff.reference}
    trail.record(actor, "visit.planned", "visit", visits[0].pk, at=at, episode=episode.pk, detail=detail)
    return visits


@transaction.atomic(durable=True)
def set_visit_state(*, actor: Staff, visit_id: UUID, version: int, state: str, note: str | None = None) -> Visit:
    """Say what became of a planned session: came, did not come, cancelled, or planned after all.

    Whoever records in the gym may say who came; cancelling is for whoever plans. The same state again changes nothing.
    """
    at = clock.now()
    if state not in VisitState.values:
        raise Invalid(_("A session is planned, came, missed or cancelled."))
    action = Action.RECORD if state in (VisitState.CAME, VisitState.MISSED) else Action.PLAN_VISIT
    rows = Visit.objects.select_for_update(no_key=True, of=("self",)).select_related("site")
    visit = access.get(actor, action, rows, at=at, pk=visit_id)
    if visit.state == state and note is None:
        return visit
    unless_stale(visit, version, "visit", zone=visit.site.time_zone)
    if state == VisitState.CAME and visit.starts_at > at + timedelta(hours=12):
        raise Invalid(_("This session lies ahead: nobody can have come yet."))
    visit.state, visit.version = state, visit.version + 1
    visit.note = visit.note if note is None else note.strip()
    fit(visit)
    with refused_as(lambda: _standing(visit.episode, [visit.starts_at]), "visit_not_twice"):
        visit.save(update_fields=["state", "note", "version"])
    detail = {"version": visit.version, "state": state}
    trail.record(actor, f"visit.{state}", "visit", visit.pk, at=at, episode=visit.episode_id, detail=detail)
    return visit


def _carried_by(episode: Episode, at: datetime) -> Staff:
    """The therapist who carries an episode."""
    row = Assignment.objects.filter(episode=episode, period__contains=at).select_related("staff").first()
    if row is None:
        raise Invalid(_("Nobody carries this person now. Name who will see them."))
    return row.staff


def _standing(episode: Episode, starts: list[datetime]) -> Conflict:
    """The refusal for a second session of the same person at the same time."""
    rows = Visit.objects.filter(episode=episode, starts_at__in=starts).exclude(state=VisitState.CANCELLED)
    row = rows.select_related("staff", "site").order_by("starts_at").first()
    if row is None:
        return Conflict(_("Somebody else planned the same a moment ago. Look again."))
    when = instant_words(row.starts_at, row.site.time_zone)
    return Conflict(
        _("They come on {when} to {staff} already. Nothing was planned.").format(when=when, staff=row.staff.name),
        code="visit_twice",
    )
