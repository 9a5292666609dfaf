"""Assigning, reassigning and ending, for episodes that are open already. Access follows the dates."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from caseload.assignment.models import Assignment
from caseload.assignment.steps import begin_assignment, carrier, end_standing
from caseload.episode.models import Episode
from caseload.visit.steps import hand_on_visits
from caseload.writes import because, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Conflict
from clinic.staff.models import Staff

EPISODES = Episode.objects.select_related("site", "person")


@transaction.atomic(durable=True)
def assign(
    *, actor: Staff, episode_id: UUID, staff_id: UUID, reason: str = "", since: datetime | None = None
) -> Assignment:
    """Give an open episode to a therapist, from now or a given instant on.

    Overlap with somebody who carries it already is refused by the database: Conflict, naming them.
    """
    at = clock.now()
    episode = _open_episode(actor, episode_id, at)
    since = since or at
    staff = carrier(staff_id, max(since, at))
    return begin_assignment(episode, staff, actor=actor, at=at, since=since, reason=reason)


@transaction.atomic(durable=True)
def reassign(
    *,
    actor: Staff,
    episode_id: UUID,
    staff_id: UUID,
    standing_id: UUID | None,
    version: int | None,
    reason: str,
    move_visits: bool = False,
) -> Assignment:
    """Move an episode to another therapist now: one assignment ends and the next begins at the same instant.

    `standing_id` and `version` are of the assignment that the lead saw: where another stands meanwhile, nothing is
    moved. Whoever carries it already gets it a second time without effect. With `move_visits` the sessions that are
    booked with the one who carried are with the next one; without, they stay booked as they are.
    """
    at = clock.now()
    episode = _open_episode(actor, episode_id, at)
    standing = Assignment.objects.filter(episode=episode, period__contains=at).select_related("staff").first()
    if standing is not None and standing.staff_id == staff_id:
        return standing
    _as_seen(standing, standing_id, version, zone=episode.site.time_zone)
    reason = because(reason, _("Say why they are moved: their next therapist will want to know."))
    staff = carrier(staff_id, at)
    end_standing(episode, actor=actor, at=at, end=at, reason=reason)
    if move_visits and standing is not None:
        hand_on_visits(episode.pk, standing.staff_id, staff, actor=actor, at=at)
    return begin_assignment(episode, staff, actor=actor, at=at, since=at, reason=reason)


@transaction.atomic(durable=True)
def end_assignment(*, actor: Staff, assignment_id: UUID, version: int, reason: str) -> Assignment:
    """Take an episode from its therapist without giving it to another yet. One that has ended stays so."""
    at = clock.now()
    rows = Assignment.objects.select_for_update(no_key=True, of=("self",)).select_related("episode__site", "staff")
    row = access.get(actor, Action.ASSIGN, rows, at=at, pk=assignment_id)
    if row.period.upper is not None and row.period.upper <= at:
        return row
    unless_stale(row, version, "assignment", zone=row.episode.site.time_zone)
    reason = because(reason, _("Say why: the person has nobody from now on."))
    ended = end_standing(row.episode, actor=actor, at=at, end=at, reason=reason)
    if ended is None or ended.pk != row.pk:
        raise Conflict(_("This assignment has not begun yet. Move them when it has."))
    return ended


def _open_episode(actor: Staff, episode_id: UUID, at: datetime) -> Episode:
    """The episode, locked against a second assignment; one that is closed is refused."""
    rows = EPISODES.select_for_update(no_key=True, of=("self",))
    episode = access.get(actor, Action.ASSIGN, rows, at=at, pk=episode_id)
    if episode.closed_at is not None:
        raise Conflict(
            _("The episode of {person} is closed. A new referral begins a new one.").format(
                person=episode.person.full_name
            )
        )
    return episode


def _as_seen(standing: Assignment | None, seen: UUID | None, version: int | None, *, zone: str) -> None:
    """Refuse where somebody moved the person since the lead looked."""
    if standing is None or standing.pk != seen:
        who = standing.staff.name if standing else "nobody"
        if seen is not None or standing is not None:
            raise Conflict(
                _("Somebody moved them meanwhile: {who} carries them now. Look again, then decide.").format(who=who)
            )
        return
    unless_stale(standing, version or 0, "assignment", zone=zone)
