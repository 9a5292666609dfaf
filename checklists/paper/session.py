"""The session that a sheet tells of. Without its closing the start check on the paper would hold for whoever comes back
to the bars within the hours (rule `start_check`), and nobody would ask for another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID, uuid5
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from checklists.floor.sessions import Session
from clinic.language import dates

Fact = Mapping[str, Any]
START, END = "start_of_session", "end_of_session"


def session_facts(rows: Sequence[Fact], held: Iterable[Session], *, last_seq: int) -> list[dict[str, Any]]:
    """What opens and what closes the session of these rows, where they tell of a whole one: attempts, or both checks.

    Nothing is opened within a session that the record knows of (`held`: those of the day), and none of those that were
    closed is closed again. Without an end check nothing is closed. The same rows give the same facts."""
    if not _tells(rows):
        return []
    first, last = min(rows, key=_instant), max(rows, key=_instant)
    sessions, found = [session for session in held if session.since], []
    if not any(_covers(session, _instant(first)) for session in sessions):
        found.append(_fact("session_opened", first, seq=0))
    at_end = [session for session in sessions if _covers(session, _instant(last))]
    is_open = any(session.is_open for session in at_end) or (bool(found) and not at_end)
    if is_open and END in _checks(rows):
        found.append(_fact("session_closed", last, seq=last_seq))
    return found


def around(rows: Sequence[dict[str, Any]], session: Sequence[dict[str, Any]]) -> list[dict[str, Any]]:
    """The rows with what opens their session before them and what closes it after them."""
    opens = [fact for fact in session if fact["kind"] == "session_opened"]
    return [*opens, *rows, *(fact for fact in session if fact not in opens)]


def told(facts: Iterable[Fact], zone: str) -> str:
    """That a session was recorded with the rows, in words; nothing where none was."""
    at = {fact["kind"]: dates.clock(_instant(fact).astimezone(ZoneInfo(zone))) for fact in facts}
    opened, closed = at.get("session_opened"), at.get("session_closed")
    if opened and closed:
        return _("They stand as one session, opened at {first} and closed at {last}.").format(first=opened, last=closed)
    if opened:
        return _("They stand as one session, opened at {first} and not closed: no end check was entered.").format(
            first=opened
        )
    return _("The session that was open is closed at {last}.").format(last=closed) if closed else ""


def _tells(rows: Sequence[Fact]) -> bool:
    return any(fact["kind"] == "attempt" for fact in rows) or {START, END} <= _checks(rows)


def _checks(rows: Sequence[Fact]) -> set[str]:
    return {fact["name"] for fact in rows if fact["kind"] == "check"}


def _covers(session: Session, at: datetime) -> bool:
    return datetime.fromisoformat(session.since) <= at and (
        not session.until or at <= datetime.fromisoformat(session.until)
    )


def _instant(fact: Fact) -> datetime:
    return datetime.fromisoformat(fact["at"])


def _fact(kind: str, row: Fact, *, seq: int) -> dict[str, Any]:
    """At the instant of a row; a row that is moved to another instant has another one."""
    return {"id": str(uuid5(UUID(row["id"]), f"{kind} {row['at']}")), "kind": kind, "at": row["at"], "seq": seq}
