"""What changed since the reader last opened somebody, by other hands: for several people in five statements."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from uuid import UUID

import orjson
from django.db.models import Count, Exists, F, Max, OuterRef, Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from caseload.looked.selectors import last_looks
from checklists.alerts.models import Alert
from checklists.floor.sessions import struck_by
from checklists.person.facts import tell
from checklists.record.models import Entry, EntryContent
from checklists.today.since import TELLING
from clinic import clock
from clinic.language import dates
from clinic.staff.models import Staff

NEW = gettext_lazy("New to you: you have not seen this person yet")
# What is said by its number; since.TELLING by what it says.
COUNTED = ("attempt", "check", "mode_set", "mode_checked", "struck_out")


def changed_since_looked(
    actor: Staff, episodes: Iterable[UUID], *, at: datetime, zone: str, greets: bool = True
) -> dict[UUID, list[str]]:
    """For each person whom something happened to: the lines, what is said in full first, the newest of it first.

    `greets`: whether somebody whom the reader never saw is news.
    """
    looks = last_looks(actor, episodes)
    seen = _last_seen(actor, looks)
    new = [episode for episode in looks if greets and episode not in seen]
    told: dict[UUID, list[str]] = defaultdict(list, {episode: [str(NEW)] for episode in new})
    if seen:
        today = clock.local_day(at, zone)
        for lines in (_facts(actor, seen, today, zone), _counted(actor, seen, today, zone), _alerts(actor, seen)):
            for episode, line in lines:
                told[episode].append(line)
    return told


def _last_seen(actor: Staff, looks: Mapping[UUID, datetime | None]) -> dict[UUID, datetime]:
    """When the reader last opened each person; where they never did, when they last recorded something of them."""
    unseen = [episode for episode, when in looks.items() if when is None]
    mine = Entry.objects.filter(episode__in=unseen, by=actor).exclude(kind="episode_opened").values_list("episode")
    opened = {episode: when for episode, when in looks.items() if when is not None}
    return {**dict(mine.annotate(last=Max("received_at")).order_by("episode")), **opened}


def _later(seen: Mapping[UUID, datetime], episode: str, instant: str) -> Q:
    """Whatever the server came to know of somebody after they were looked at."""
    found = Q(pk__isnull=True)
    for key, when in seen.items():
        found |= Q(**{episode: key, f"{instant}__gt": when})
    return found


def _facts(actor: Staff, seen: Mapping[UUID, datetime], today: date, zone: str) -> list[tuple[UUID, str]]:
    later = _later(seen, "entry__episode", "entry__received_at")
    rows = EntryContent.objects.filter(later, entry__kind__in=(*TELLING, "struck_out"))
    said = ("entry__episode", "body", "entry__at", "entry__by", "entry__by__name")
    found = rows.order_by("-entry__at", "-entry__number").values_list(*said)
    facts = [(episode, orjson.loads(body), *rest) for episode, body, *rest in found]
    struck = struck_by(fact for _, fact, *_ in facts)
    return [
        (episode, _("{what}, {day} by {name}").format(what=tell(fact).head, day=day_said(when, today, zone), name=name))
        for episode, fact, when, by, name in facts
        if fact["kind"] != "struck_out" and fact["id"] not in struck and by != actor.pk
    ]


def _alerts(actor: Staff, seen: Mapping[UUID, datetime]) -> list[tuple[UUID, str]]:
    """What the reader broke themselves is no news to them: it stands among what is due."""
    own = Entry.objects.filter(id=OuterRef("entry"), by=actor)
    rows = Alert.objects.filter(_later(seen, "episode", "known_at"), Q(open=True)).exclude(Exists(own))
    found = rows.values_list("episode").annotate(acts=Count("entry", distinct=True)).order_by("episode")
    return [(episode, ngettext("{n} new alert", "{n} new alerts", acts).format(n=acts)) for episode, acts in found]


def _counted(actor: Staff, seen: Mapping[UUID, datetime], today: date, zone: str) -> list[tuple[UUID, str]]:
    rows = Entry.objects.filter(_later(seen, "episode", "received_at"), kind__in=COUNTED).exclude(by=actor)
    found = rows.values("episode", name=F("by__name")).annotate(many=Count("pk"), last=Max("at")).order_by("-last")
    return [
        (
            row["episode"],
            _("{what}, {day} by {name}").format(
                what=_entries(row["many"]), day=day_said(row["last"], today, zone), name=row["name"]
            ),
        )
        for row in found
    ]


def _entries(many: int) -> str:
    return ngettext("{n} entry", "{n} entries", many).format(n=many)


def day_said(when: datetime, today: date, zone: str) -> str:
    """'today', 'yesterday', '20 Nov'."""
    day = clock.local_day(when, zone)
    return {0: _("today"), 1: _("yesterday")}.get((today - day).days) or dates.day_of_year(day)
