"""Inner steps about who carries an episode. They open no transaction; the caller has permitted and locked."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from uuid import UUID

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.utils.translation import gettext as _

from caseload.assignment.models import Assignment, Cover, ahead
from caseload.writes import fit, refused_as, until
from clinic import access
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.outbox.post import publish
from clinic.staff.models import Staff

if TYPE_CHECKING:
    from caseload.episode.models import Episode


def carrier(staff_id: UUID, at: datetime) -> Staff:
    """A member of staff who may be given an episode at an instant; anybody else is refused with a reason."""
    staff = Staff.objects.filter(pk=staff_id).first()
    if staff is None:
        raise Invalid(_("There is no such member of staff. Choose one of the list."))
    if access.reach(staff, Action.CARRY_EPISODE, at) is None:
        raise Invalid(_("{staff} cannot carry anybody then: no therapist on that day.").format(staff=staff.name))
    return staff


def begin_assignment(
    episode: Episode, staff: Staff, *, actor: Staff, at: datetime, since: datetime, reason: str = ""
) -> Assignment:
    """Give an episode to a therapist from an instant on. Overlap: Conflict that names who stands."""
    row = Assignment(
        episode=episode, staff=staff, period=DateTimeTZRange(since, None), made_by=actor, reason=reason.strip()
    )
    fit(row)
    with refused_as(lambda: _standing(row), "assignment_one_at_a_time"):
        row.save(force_insert=True)
    who = {"version": 1, "staff": staff.reference, "since": since.isoformat()}
    trail.record(actor, "assignment.made", "assignment", row.pk, at=at, episode=episode.pk, detail=who)
    news = {"episode": str(episode.pk), "reference": episode.reference, "staff": str(staff.pk), "given": str(row.pk)}
    publish("assignment.made", news, at=at, dedupe_key=f"assignment.made:{row.pk}")
    return row


def end_standing(episode: Episode, *, actor: Staff, at: datetime, end: datetime, reason: str = "") -> Assignment | None:
    """End the assignment that stands at an instant, there and then; nothing where nobody carries the episode.

    Covers that reach beyond it are cut there too: nobody stands in for a colleague who does not carry the person.
    """
    row = Assignment.objects.filter(episode=episode, period__contains=end).select_related("staff").first()
    if row is None:
        return None
    row.period = DateTimeTZRange(row.period.lower, end)
    row.version += 1
    row.save(update_fields=["period", "version"])
    detail = {"version": row.version, "staff": row.staff.reference, "until": end.isoformat(), "reason": reason[:400]}
    trail.record(actor, "assignment.ended", "assignment", row.pk, at=at, episode=episode.pk, detail=detail)
    end_covers(episode, actor=actor, at=at, end=end)
    return row


def end_covers(episode: Episode, *, actor: Staff, at: datetime, end: datetime) -> None:
    """Cut every cover of an episode at an instant."""
    for cover in Cover.objects.filter(ahead(end), episode=episode).select_related("staff"):
        cut_cover(cover, actor=actor, at=at, end=end)


def cut_cover(cover: Cover, *, actor: Staff, at: datetime, end: datetime) -> None:
    """End a cover at an instant. One that had not begun keeps no time at all: an empty period overlaps nothing."""
    cover.period = DateTimeTZRange(cover.period.lower, max(cover.period.lower, end))
    cover.version += 1
    cover.save(update_fields=["period", "version"])
    detail = {"version": cover.version, "staff": cover.staff.reference, "until": end.isoformat()}
    trail.record(actor, "cover.ended", "cover", cover.pk, at=at, episode=cover.episode_id, detail=detail)


def _standing(wanted: Assignment) -> Conflict:
    """The refusal for an overlap: who carries the episode, and since when."""
    rows = Assignment.objects.filter(episode_id=wanted.episode_id, period__overlap=wanted.period)
    row = rows.select_related("staff", "episode__person", "episode__site").order_by("period").first()
    if row is None:
        return Conflict(_("Somebody else assigned this episode a moment ago. Look again, then decide."))
    zone = row.episode.site.time_zone
    return Conflict(
        _("{staff} carries {person} already, {until}. Move them instead, or choose dates that do not overlap.").format(
            staff=row.staff.name,
            person=row.episode.person.full_name,
            until=until(row.period.lower, row.period.upper, zone),
        ),
        code="assignment_overlaps",
    )
