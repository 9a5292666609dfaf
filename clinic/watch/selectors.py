"""What is wrong now: one selector for the banner, the Watch page and the health address.

Worked out on request, and kept for a few seconds in the process, so that a page costs nothing and a hundred costs one
statement.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db import DatabaseError
from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.language.text import Text
from clinic.staff.models import Staff
from clinic.watch import look, words
from clinic.watch.limits import LIMITS, Limit
from clinic.watch.look import Seen
from clinic.watch.models import Alarm

log = logging.getLogger(__name__)
KEPT_SECONDS = 5.0
MAKING = gettext_lazy(
    "The invented clinic is still being made: its people appear as their year goes by. Look around meanwhile, "
    "and record nothing yet: whoever you record for is left to you from then on."
)
STRANGERS = gettext_lazy("The server needs somebody to look after it. Tell a clinic lead.")
ALARMED = gettext_lazy("An alarm of the server is open. Read it on the page Server and follow the clinic's guide.")
_BEATS = {"worker": "outbox", "deadlines": "deadlines", "sealer": "seal", "verify": "verify", "backup": "backup"}


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is watched, as it stands. `over`: past its limit; `watched` is false where there is none."""

    limit: Limit
    value: str
    allowed: str
    over: bool
    watched: bool
    detail: str = ""


@dataclass(frozen=True, slots=True)
class State:
    """Everything that is watched, as it stands at an instant."""

    at: datetime
    findings: Sequence[Finding] = ()
    alarms: Sequence[look.Alarm] = ()
    making: bool = False

    @property
    def wrong(self) -> list[Finding]:
        """What is past its limit, the gravest for whoever stands at the bars first."""
        return [one for one in self.findings if one.over]

    @property
    def unwatched(self) -> list[Text]:
        """What nobody watches here, by its title."""
        return [one.limit.title for one in self.findings if not one.watched]

    @property
    def well(self) -> bool:
        """Whether nothing is past its limit and no alarm open."""
        return self.making or not (self.wrong or self.alarms)


@dataclass(frozen=True, slots=True)
class Banner:
    """What stands on a page: one sentence for everybody; for leads and records officers each thing by itself."""

    kind: str
    sentence: str
    more: Sequence[str] = ()
    to_watch: bool = False


_kept: tuple[float, State] | None = None


def state(at: datetime | None = None) -> State:
    """What is wrong now. Where an instant is given, or the clock is set, it is worked out anew; else kept shortly."""
    global _kept
    if at is not None or clock.is_set():
        return _worked_out(at or clock.now())
    if _kept is None or clock.ticks() - _kept[0] > KEPT_SECONDS:
        _kept = (clock.ticks(), _worked_out(clock.now()))
    return _kept[1]


def forget() -> None:
    """Look anew at the next question."""
    global _kept
    _kept = None


def banner(actor: Staff | None, at: datetime) -> Banner | None:
    """What a page says to this reader; nothing where all is well, or where the database does not answer, which its own
    page says."""
    try:
        now = state()
        details = actor is not None and access.reach(actor, Action.SEE_WATCH, at) is not None
    except DatabaseError as fault:
        log.warning("the watch could not look: %s", type(fault).__name__)
        return None
    if now.making:
        return Banner("yours", str(MAKING))
    if not now.wrong and not (now.alarms and details):
        return None
    return _told(now, details) if actor is not None else Banner("check", str(STRANGERS))


def _told(now: State, details: bool) -> Banner:
    sentence = str(now.wrong[0].limit.say if now.wrong else ALARMED)
    if not details:
        return Banner("check", sentence)
    more = [one.text for one in now.alarms]
    said = _("{what}: {value}; the limit is {allowed}. {do}")
    more += [
        said.format(what=one.limit.title, value=one.value, allowed=one.allowed, do=one.limit.do) for one in now.wrong
    ]
    return Banner("stop" if now.alarms else "check", sentence, more, to_watch=True)


def _worked_out(at: datetime) -> State:
    seen = look.look(at)
    findings = [_finding(one, seen, at) for one in LIMITS]
    if seen.making:  # half of the year is not there yet: nothing counts
        findings = [replace(one, over=False) for one in findings]
    return State(at, findings, seen.alarms, seen.making)


def _finding(limit: Limit, seen: Seen, at: datetime) -> Finding:
    most = settings.WATCH_LIMITS.get(limit.name, 0)
    if limit.room:
        return _room(limit, seen, most)
    since, value, detail = _since(limit.name, seen, at)
    over = bool(most) and since is not None and at - since > timedelta(seconds=most)
    return Finding(limit, value, words.age(most) if most else _("not watched here"), over, bool(most), detail)


def _since(name: str, seen: Seen, at: datetime) -> tuple[datetime | None, str, str]:
    """From when its age counts, and what to say. What never happened yet counts from when the tables were made."""
    waits = {"outbox": seen.waiting_since, "retries": seen.failing_since, "seal": seen.unsealed_since}
    if name in waits:
        since = waits[name]
        return since, words.age((at - since).total_seconds()) if since else _("nothing waits"), ""
    beaten = seen.beats.get(_BEATS.get(name, name))
    if beaten is None:
        return seen.installed, _("never yet"), ""
    said = ", ".join(f"{word.replace('_', ' ')} {value}" for word, value in beaten.detail.items())
    ago = _("{age} ago").format(age=words.age((at - beaten.at).total_seconds()))
    return beaten.at, ago, said


def _room(limit: Limit, seen: Seen, most: int) -> Finding:
    if not seen.room:
        return Finding(limit, _("no folder to look at"), _("not watched here"), over=False, watched=False)
    folder, room = min(seen.room.items(), key=lambda one: one[1])
    value = _("{room} free").format(room=words.room(room))
    allowed = words.room(most) if most else _("not watched here")
    return Finding(limit, value, allowed, bool(most) and room < most, bool(most), folder)


def every_alarm(actor: Staff, *, at: datetime, most: int = 50) -> list[Alarm]:
    """The alarms, open ones first, then the newest."""
    access.permit(actor, Action.SEE_WATCH, at)
    rows = Alarm.objects.select_related("settled_by")
    return list(rows.order_by(F("settled_at").desc(nulls_first=True), "-raised_at")[:most])


def one_alarm(actor: Staff, alarm_id: UUID, *, at: datetime) -> Alarm:
    """An alarm by its id; NotFound where there is none."""
    access.permit(actor, Action.SEE_WATCH, at)
    alarm = Alarm.objects.filter(pk=alarm_id).first()
    if alarm is None:
        raise NotFound(_("There is no such alarm. Open the page Server again."))
    return alarm


@dataclass(frozen=True, slots=True)
class Ages:
    """Backups in a line, for a lead's page."""

    backup: str
    restore: str
    over: bool


def backups() -> Ages:
    """How old the last backup is and the last one that was proven by restoring it."""
    found = {one.limit.name: one for one in state().findings}
    two = found["backup"], found["restore"]
    return Ages(two[0].value, two[1].value, any(one.over for one in two))


def watched(actor: Staff, *, at: datetime) -> State:
    """For the Watch page: everything, worked out anew."""
    access.permit(actor, Action.SEE_WATCH, at)
    return state(at)
