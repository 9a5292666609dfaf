"""The reader's own news, as the page of alerts shows it: what it is about, where it is dealt with, and what has become
of it since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.urls import reverse
from django.utils.translation import gettext_noop

from caseload.models import Episode
from checklists.alerts.models import Notice
from checklists.alerts.since import settled_since
from checklists.words import Spoken
from clinic import access
from clinic.access import Action
from clinic.access.standing import beyond
from clinic.staff.models import Staff

TOPICS = Spoken(
    {
        "alarm.raised": gettext_noop("An alarm of the server"),
        "emergency.opened": gettext_noop("Somebody reads a record in an emergency: look at Emergency access"),
        "alert.raised": gettext_noop("A rule was broken"),
        "alert.struck_away": gettext_noop("What a critical alert rested on was struck out"),
        "alert.escalated": gettext_noop("An alert that nobody answered in time"),
        "entry.held": gettext_noop("A late fact waits for you to release it"),
        "request.asked": gettext_noop("An adjustment is asked for"),
        "correction.asked": gettext_noop("Somebody says that the record is wrong: answer it"),
        "request.answered": gettext_noop("Your request is answered"),
        "episode.given": gettext_noop("Given to you"),
        "episode.left": gettext_noop("Nobody carries them any more"),
        "episode.transferred": gettext_noop("Moved to another site"),
        "review.due_soon": gettext_noop("A review is due soon"),
        "review.due": gettext_noop("A review is due"),
        "review.overdue": gettext_noop("A review is overdue"),
        "review.escalated": gettext_noop("An overdue review that nobody has seen to"),
    }
)


@dataclass(frozen=True, slots=True)
class NewsLine:
    """A piece of the actor's own news. `person` is empty where they are not the actor's to see now."""

    words: str
    person: str
    reference: str
    episode_id: object
    severity: str
    made_at: datetime
    place: str
    number: int
    since: str  # what has become of it since then; nothing where it is as it was


def news_words(topic: str) -> str:
    """A topic in words."""
    return TOPICS[topic] if topic in TOPICS else topic.replace(".", ": ").replace("_", " ").capitalize()


_SHOWN_ELSEWHERE = ("alert.raised", "alert.escalated", "entry.held")  # as acts, and as what waits for a decision


@dataclass(frozen=True, slots=True)
class UnreadNews:
    """The newest of the actor's unread news, of `all` that there is."""

    lines: Sequence[NewsLine]
    all: int

    @property
    def more(self) -> int:
        """How much older news is not shown yet."""
        return self.all - len(self.lines)

    @property
    def up_to(self) -> int:
        """The newest number that is shown."""
        return max((line.number for line in self.lines), default=0)

    @property
    def since(self) -> int:
        """The oldest number that is shown."""
        return min((line.number for line in self.lines), default=0)


def unread_news(actor: Staff, *, at: datetime, most: int = 20) -> UnreadNews:
    """The actor's unread news that the page does not show by itself, newest first."""
    mine = Notice.objects.filter(staff=actor, read_at__isnull=True).exclude(topic__in=_SHOWN_ELSEWHERE)
    rows = list(mine.select_related("episode__person").order_by("-pk")[:most])
    with beyond("a reference in one's own news, which says nothing about anybody, where the person is another's now"):
        named = dict(Notice.objects.filter(pk__in=[row.pk for row in rows]).values_list("pk", "episode__reference"))
    about = Episode.objects.filter(pk__in={row.episode_id for row in rows})
    seen = set(access.scoped(actor, Action.SEE_PERSON, about, at=at).values_list("pk", flat=True))
    since = settled_since(actor, rows, at=at)
    lines = [
        NewsLine(
            words=news_words(row.topic),
            person=row.episode.person.full_name if row.episode and row.episode_id in seen else "",
            reference=named[row.pk] or "",
            episode_id=row.episode_id,
            severity=row.severity,
            made_at=row.made_at,
            place=_place(row, row.episode_id in seen),
            number=row.pk,
            since=since.get(row.pk, ""),
        )
        for row in rows
    ]
    return UnreadNews(lines, all=len(rows) if len(rows) < most else mine.count())


# Where a topic is dealt with: pages of their own, and pages of the person whom it is about.
PLACES = {
    "alarm.raised": "watch",
    "emergency.opened": "emergencies",
    "correction.asked": "keeping",
}
OF_PERSON = {"review": "plan", "request": "plan"}


def _place(notice: Notice, seen: bool) -> str:
    """The address where it is dealt with; nothing where that is not the reader's to see."""
    if notice.topic in PLACES:
        return reverse(PLACES[notice.topic])
    name = OF_PERSON.get(notice.topic.split(".")[0], "person")
    return reverse(name, args=[notice.episode_id]) if seen else ""
