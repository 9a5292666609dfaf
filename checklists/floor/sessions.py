"""The sessions of a day, folded from its facts: when each was opened and closed, and which checks were made. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(slots=True)
class Session:
    """One session. `start` and `end`: how its checks went (good, bad), or empty where there were none; `end_bad`: which
    steps of the end check were not good.

    `since` is empty where attempts or checks were recorded and nobody opened a session; `until` while it is not closed.
    """

    since: str = ""
    until: str = ""
    start: str = ""
    end: str = ""
    attempts: int = 0
    end_bad: tuple[str, ...] = ()

    @property
    def is_open(self) -> bool:
        """Opened, and not closed yet."""
        return bool(self.since) and not self.until


def struck_by(facts: Iterable[Mapping[str, Any]]) -> dict[str, Mapping[str, Any]]:
    """Each struck fact's id with the strike-out that names it."""
    return {fact["entry"]: fact for fact in facts if fact["kind"] == "struck_out"}


def sessions_of(facts: Sequence[Mapping[str, Any]]) -> list[Session]:
    """The sessions of these facts, in their order. What was struck out does not count.

    Whatever is recorded before a session is opened belongs to the one that is opened next; an end check after the
    closing belongs to the session that was closed.
    """
    struck, found = struck_by(facts), [Session()]
    for fact in facts:
        if fact["id"] in struck:
            continue
        late_end = fact["kind"] == "check" and fact["name"] == "end_of_session" and _is_untouched(found[-1])
        _take(found[-2] if late_end and len(found) > 1 else found[-1], fact)
        if fact["kind"] == "session_closed":
            found.append(Session())
    return [session for session in found if not _is_untouched(session)]


def _is_untouched(session: Session) -> bool:
    return session == Session()


def _take(session: Session, fact: Mapping[str, Any]) -> None:
    kind = fact["kind"]
    if kind == "session_opened":
        session.since = fact["at"]
    elif kind == "session_closed":
        session.until = fact["at"]
    elif kind == "attempt":
        session.attempts += 1
    elif kind == "check" and fact["name"] == "start_of_session":
        session.start = _how(fact)
    elif kind == "check" and fact["name"] == "end_of_session":
        session.end = _how(fact)
        session.end_bad = tuple(step for step, good in fact["steps"].items() if not good)


def _how(check: Mapping[str, Any]) -> str:
    return "good" if all(check["steps"].values()) else "bad"
