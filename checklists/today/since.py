"""What changed since somebody's last session, and what the bench said: for several people in three statements."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import reduce
from operator import or_
from typing import Any, NamedTuple
from uuid import UUID

import orjson
from django.db.models import OuterRef, Q, Subquery
from django.utils.text import Truncator, capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from caseload.models import Episode
from caseload.request.selectors import Asked, told_since
from checklists.person.facts import tell
from checklists.record.models import Entry, EntryContent
from checklists.words import Spoken
from clinic.language import dates
from clinic.staff.models import Staff

TELLING = ("setting_changed", "fall", "near_miss", "review", "sign_off", "sign_off_withdrawn", "struck_out")
MOST = 200  # letters of an answer; the whole of it stands on the Plan
SAID = Spoken(
    {
        "done": gettext_noop("{setting}: done by the bench"),
        "declined": gettext_noop("{setting}: declined by the bench"),
        "seen": gettext_noop("{setting}: the bench will see to it"),
        "struck": gettext_noop("{setting}: done by the bench, and the change was struck out"),
    }
)


class _Line(NamedTuple):
    """One thing to tell, without when and by whom."""

    at: datetime
    words: str
    by: str


def since_last_time(actor: Staff, episodes: Iterable[UUID], *, today: datetime, at: datetime) -> dict[UUID, list[str]]:
    """Settings, falls, reviews, signatures, checks that were not good and answers of the bench after the last attempt
    before `today`, when the local day began; by the clock."""
    keys = list(episodes)
    attempts = Entry.objects.filter(episode=OuterRef("pk"), kind="attempt", at__lt=today).order_by("-at").values("at")
    ended = Episode.objects.filter(pk__in=keys).annotate(last=Subquery(attempts[:1]))  # the newest alone is read
    last: dict[UUID, datetime | None] = dict(ended.values_list("pk", "last"))
    asked = told_since(actor, last, at=at)
    rows = (
        EntryContent.objects.filter(Q(entry__episode__in=keys, entry__kind__in=TELLING) | _checks_since(last))
        .order_by("entry__at", "entry__number")
        .values_list("entry__episode", "body", "entry__at", "entry__by__name")
    )
    told = _told([(episode, orjson.loads(body), when, by) for episode, body, when, by in rows], last, asked)
    return {
        episode: [f"{line.words}, {dates.day_of_year(line.at)} ({line.by})" for line in sorted(lines, key=_when)]
        for episode, lines in told.items()
    }


def _checks_since(last: Mapping[UUID, datetime | None]) -> Q:
    """The checks after it: of a whole course they would be most of what is read."""
    of_each = [Q(entry__episode=key, entry__at__gt=at) for key, at in last.items() if at is not None]
    return Q(entry__kind="check") & reduce(or_, of_each, Q(pk__in=[]))


def _when(line: _Line) -> datetime:
    return line.at


def _told(
    facts: list[tuple[UUID, dict[str, Any], datetime, str]],
    last: Mapping[UUID, datetime | None],
    asked: Iterable[Asked],
) -> dict[UUID, list[_Line]]:
    """The facts, each with the request that it answers; and the answers that no fact among them tells."""
    answers = {str(one.entry) if one.entry else str(one.request_id): one for one in asked}
    struck = {fact["entry"] for _, fact, *_ in facts if fact["kind"] == "struck_out"}
    told: dict[UUID, list[_Line]] = defaultdict(list)
    for episode, fact, at, by in facts:
        since = last[episode]
        good = fact["kind"] == "check" and all(fact["steps"].values())
        tells = fact["kind"] != "struck_out" and not good and fact["id"] not in struck
        if tells and (since is None or at > since):
            told[episode].append(_Line(at, _fact_words(fact, answers.pop(fact["id"], None)), by))
    for key, one in answers.items():
        told[one.episode_id].append(_answered(one, struck=key in struck))
    return told


def _fact_words(fact: dict[str, Any], asked: Asked | None) -> str:
    """What happened; of a change that was asked for also that, with what the bench noted beside it."""
    head = tell(fact).head
    if asked is None:
        return head
    return _quoted(_("{what}, done by the bench as asked").format(what=head), fact.get("note", ""))


def _answered(asked: Asked, *, struck: bool) -> _Line:
    words = SAID["struck" if struck else asked.state].format(setting=capfirst(asked.setting_words))
    at, by = (asked.done_at, asked.done_by) if asked.done_at else (asked.seen_at, asked.seen_by)
    return _Line(at or asked.asked_at, words if struck else _quoted(words, asked.answer), by)


def _quoted(words: str, answer: str) -> str:
    if not answer:
        return words
    return _("{words}: “{answer}”").format(words=words, answer=Truncator(answer).chars(MOST))
