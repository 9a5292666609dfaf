"""What is overdue in the clinic: reviews whose day has passed, sign-offs that lapsed, requests that nobody answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import connection
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.request.selectors import open_requests
from caseload.review.selectors import Due, overdue_reviews
from caseload.words import day_words, days_words
from checklists.pictures import names
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Staff

MOST_LAPSED = 200
# One row a lapsed sign-off of an open episode. The board row is kept fresh by whoever writes and by the clock's task.
LAPSED = """
SELECT e.id, coalesce(nullif(p.called, ''), p.given_name) || ' ' || p.family_name, k.key, k.value->>'lapses_at', t.name
FROM checklists_head h
JOIN caseload_episode e ON e.id = h.episode_id AND e.closed_at IS NULL
JOIN caseload_person p ON p.id = e.person_id
LEFT JOIN caseload_assignment a ON a.episode_id = e.id AND a.period @> %(at)s
LEFT JOIN clinic_staff t ON t.id = a.staff_id
CROSS JOIN LATERAL jsonb_each(h.board->'skills') k
WHERE k.value->>'status' = 'lapsed'
ORDER BY k.value->>'lapses_at', e.id LIMIT %(most)s
"""


@dataclass(frozen=True, slots=True)
class Late:
    """One line: who, what, where it stands, how late, and with whom. `mark` says it in shape."""

    episode_id: UUID
    person: str
    what: str
    stands: str
    days: int
    therapist: str
    mark: str
    review_id: UUID | None = None  # of a review that waits for the lead: its day is theirs to decide

    @property
    def late(self) -> str:
        """'7 days'."""
        return days_words(self.days)


def overdue(actor: Staff, *, at: datetime) -> list[Late]:
    """Everything overdue that the lead chases, the latest first. Three statements."""
    access.permit(actor, Action.SEE_CASELOAD, at)
    today = clock.local_day(at, actor.site.time_zone)
    reviews = [
        Late(
            episode_id=row.episode_id,
            person=row.person,
            what=row.kind[:1].upper() + row.kind[1:],
            stands=_stands(row),
            days=row.days_late,
            therapist=row.therapist,
            mark="overdue",
            review_id=row.review_id if row.escalated else None,
        )
        for row in overdue_reviews(actor, at=at)
    ]
    requests = [
        Late(
            episode_id=row.episode_id,
            person=row.person,
            what=_("Request: {setting}").format(setting=row.setting_words),
            stands=_("{state}, at the bench").format(state=row.state_words),
            days=row.days,
            therapist=row.therapist,
            mark="waiting",
        )
        for row in open_requests(actor, at=at)
        if row.is_old
    ]
    return sorted([*reviews, *requests, *_lapsed(today, at)], key=lambda row: (-row.days, row.person))


def _stands(row: Due) -> str:
    """Which day it was due, since two of one person may be overdue, and who was told."""
    due = _("due {day}").format(day=day_words(row.due_on))
    if row.escalated:
        return f"{due}; " + _("reminders went unanswered: yours to decide, a new date or a call to their therapist")
    return f"{due}; " + (_("told: {rung}").format(rung=row.reminded) if row.reminded else _("no reminder yet"))


def _lapsed(today: date, at: datetime) -> list[Late]:
    """One line a person, with the skills, the longest lapsed first."""
    with connection.cursor() as cursor:
        cursor.execute(LAPSED, {"at": at, "most": MOST_LAPSED})
        rows = cursor.fetchall()
    found: dict[UUID, list[tuple[str, str, str, str | None]]] = {}
    for episode_id, *rest in rows:
        found.setdefault(episode_id, []).append((rest[0], rest[1], rest[2], rest[3]))
    return [_late(episode_id, lines, today) for episode_id, lines in found.items()]


def _late(episode_id: UUID, lines: Sequence[tuple[str, str, str, str | None]], today: date) -> Late:
    person, _, since, therapist = lines[0]
    skills = [names.short(skill, skill) for _, skill, _, _ in lines]
    return Late(
        episode_id=episode_id,
        person=person,
        what=ngettext("Sign-off lapsed", "{n} sign-offs lapsed", len(skills)).format(n=len(skills)),
        stands=", ".join(skills),
        days=(today - datetime.fromisoformat(since).date()).days,
        therapist=therapist or "",
        mark="lapsed",
    )
