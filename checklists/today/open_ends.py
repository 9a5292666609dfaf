"""What a session or a knee leaves open at the end of a day, in words. Pure: the core and the fold of sessions judge."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Any

from django.utils.translation import gettext as _

from checklists.floor.sessions import Session
from checklists.floor.words import START
from checklists.pictures.words import MODE
from checklists.words.tables import worded
from clinic.language import dates

OF_THE_BODY = ("skin", "fit")  # what else an end check finds not good the knee itself says (`of_knees`)


@dataclass(frozen=True, slots=True)
class OpenEnd:
    """Something that is not finished: its mark, its sentence with what is to be done; `missing`: which check is to be
    entered late, 'start' or 'end' (else it is done on the Floor)."""

    mark: str
    text: str
    missing: str = ""


def of_sessions(sessions: Iterable[Session], zone: tzinfo) -> list[OpenEnd]:
    """Sessions that are still open, checks that were not made, and what an end check found not good, unless a later
    start check of the day found it good."""
    found, held = [], list(sessions)
    for place, session in enumerate(held):
        name = _("Session that nobody opened")
        if session.since:
            name = _("Session of {time}").format(time=_clock(session.since, zone))
        if session.is_open:
            found.append(OpenEnd("waiting", _("{name}: still open. Close it with the end check.").format(name=name)))
        if not session.start and (session.attempts or session.until):
            found.append(
                OpenEnd("check", _("{name}: no start check. If it was made, enter it.").format(name=name), "start")
            )
        if not any(one.start == "good" for one in held[place + 1 :]):
            found += [OpenEnd("stop", _not_good(name, step)) for step in session.end_bad if step in OF_THE_BODY]
        if not session.end and not session.is_open and (session.attempts or session.until):
            found.append(
                OpenEnd("check", _("{name}: no end check. If it was made, enter it.").format(name=name), "end")
            )
    return found


def _not_good(session: str, step: str) -> str:
    """What to do about it is what the Floor said as it was found."""
    _head, _good, todo = map(_, START[step])
    return _("{name}: end check not good. {todo}").format(name=session, todo=todo)


def of_knees(knees: Iterable[Mapping[str, Any]], zone: tzinfo) -> list[OpenEnd]:
    """Knees of which walking mode is not the last thing that was proven. Nothing was ever seen: nothing is open."""
    return [_knee(knee, zone) for knee in knees if knee["at"] and not _is_home(knee)]


def _is_home(knee: Mapping[str, Any]) -> bool:
    return bool(knee["mode"] == "walking" and knee["proof"] == "proven")


def _knee(knee: Mapping[str, Any], zone: tzinfo) -> OpenEnd:
    name = worded(knee["knee"] or "", "knee")
    name = name[:1].upper() + name[1:]
    when, mode = _clock(knee["at"], zone), MODE[knee["mode"] or "unknown"]
    text = _("{knee} still {mode}, proven at {time}: the way back to walking is not completed")
    if knee["mode"] is None:
        text = _("{knee} exchanged at {time}: nothing is known of it")
    elif knee["proof"] == "failed":
        text = _("{knee} checked for {mode} at {time}, and not so")
    elif knee["proof"] != "proven":
        text = _("{knee} set to {mode} at {time} and not proven")
    what = text.format(knee=name, mode=mode, time=when)
    return OpenEnd(
        "stop", _("{what}. Set it to walking and prove it; if it does not hold, nobody stands on it.").format(what=what)
    )


def _clock(instant: str, zone: tzinfo) -> str:
    """'10:46', with the day where it says more: '24 Nov, 10:46' is for a knee that was left so on another day."""
    return dates.moment_of_year(datetime.fromisoformat(instant).astimezone(zone))
