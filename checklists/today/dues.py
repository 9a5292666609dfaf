"""What is overdue or waits for several people: alerts, falls, reviews, hours by which something is to be shown."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from caseload.review.selectors import Due as Planned
from caseload.review.selectors import open_reviews
from checklists.alerts.models import Alert
from checklists.alerts.rules import FALL_UNREVIEWED, words_of
from checklists.alerts.selectors import WAITING
from checklists.alerts.ways import waiting_of
from checklists.person.heads import Standing
from checklists.record.models import Deadline
from checklists.today.rows import Due
from checklists.words import Spoken, said
from clinic import access
from clinic.access import Action
from clinic.language import dates
from clinic.staff.models import Staff

FALL = "fall_review"  # the core's word for a fall that must be looked at first (SEMANTICS.md §6)
# The rules of the default protocol that give time, said short; all others in the protocol's own words.
ASKED = Spoken({"walking_mode_in_time": gettext_noop("walking mode proven again, or the knee exchanged")})


def dues_of(actor: Staff, stand: Mapping[UUID, Standing], *, at: datetime, zone: str) -> dict[UUID, list[Due]]:
    """What is due for each person. Three statements."""
    dues: dict[UUID, list[Due]] = defaultdict(list)
    for episode, waits in waiting_of(Alert.objects.filter(WAITING, episode__in=list(stand))).items():
        words = alert_words(actor, waits.many, at=at)
        dues[episode].append(Due("alert", "critical", words, way=waits.way))
    for episode, standing in stand.items():
        if falls := len(falls_waiting(standing)):
            dues[episode].append(Due("fall", "critical", _fall_words(falls), link="review", many=falls))
    for review in open_reviews(actor, at=at, episodes=set(stand)):
        if review.state in ("overdue", "due"):
            kind = "overdue" if review.state == "overdue" else "waiting"
            dues[review.episode_id].append(Due(kind, kind, review_words(review), link="plan"))
    for episode, text in _deadlines(stand, zone):
        dues[episode].append(Due("deadline", "waiting", text, link="floor"))
    return dues


def review_words(review: Planned) -> str:
    """'Routine review: 7 days overdue'."""
    return f"{review.kind[:1].upper()}{review.kind[1:]}: {review.words}"


def falls_waiting(standing: Standing) -> list[str]:
    """What is said of each fall that is to be reviewed before the next attempt."""
    return [said(one["sentence"]) for one in standing.board.get("check_first", ()) if one["key"] == FALL]


def _fall_words(falls: int) -> str:
    if falls == 1:
        return _("Fall to review")
    return ngettext("{n} fall to review", "{n} falls to review", falls).format(n=falls)


def _deadlines(stand: Mapping[UUID, Standing], zone: str) -> list[tuple[UUID, str]]:
    """What must be shown by an hour, and is not missed yet: a missed one is an alert."""
    rows = Deadline.objects.filter(episode__in=list(stand), met_at__isnull=True, reported_at__isnull=True)
    rows = rows.exclude(rule=FALL_UNREVIEWED).order_by("due_at", "pk")
    return [
        (
            episode,
            _("By {time}: {what}").format(
                time=dates.clock(due_at.astimezone(ZoneInfo(zone))), what=_asked(stand[episode], rule)
            ),
        )
        for episode, rule, due_at in rows.values_list("episode", "rule", "due_at")
    ]


def _asked(standing: Standing, rule: str) -> str:
    return ASKED[rule] if rule in ASKED else said(words_of(standing.protocol, rule).sentence)


def alert_words(actor: Staff, acts: int, *, at: datetime) -> str:
    """How many alerts wait for an answer, and to whoever may give none whose it is."""
    if access.reach(actor, Action.ACKNOWLEDGE_ALERT, at) is not None:
        return ngettext("{n} alert to answer", "{n} alerts to answer", acts).format(n=acts)
    words = ngettext(
        "{n} alert, for the therapist or a lead to answer", "{n} alerts, for the therapist or a lead to answer", acts
    )
    return words.format(n=acts)
