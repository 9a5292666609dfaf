"""A careful person's whole course as facts, without a database: for tests, and as data for the bench."""

from __future__ import annotations

import random
import uuid
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from checklists.demo.ladder import Ladder
from checklists.demo.session import Fact, Session, Walker, ordinary
from checklists.domain import Episode, Protocol, parse_entry

ZONE = ZoneInfo("Europe/London")
THERAPIST, PROSTHETIST = "ar-runa", "ar-ebo"
FEATURES = ("lock", "free_swing", "yielding", "resistance")
CHANGES = ("resistance", "alignment", "footwear", "resistance", "foot")


def opening(walker: Walker, at: datetime, protocol: Protocol, features: tuple[str, ...], fact_id: str) -> Fact:
    """The first fact of an episode."""
    begins = {"side": walker.side, "features": sorted(features), "protocol": protocol.reference}
    return {
        "id": fact_id,
        "episode": walker.episode,
        "kind": "episode_opened",
        "at": at.isoformat(),
        "by": THERAPIST,
        "role": "therapist",
        **begins,
    }


def to_sign(ladder: Ladder, fold: Episode, at: datetime) -> Iterator[str]:
    """Skills that a careful therapist would sign off now, one after the other: whoever signs appends it to the fold."""
    for key in ladder.order:
        if fold.status_words(at)[key] in ("ready", "suspended", "lapsed") and not fold.sign_off_blockers(key, at):
            yield key


class Course:
    """The facts of one course so far, and the fold over them."""

    def __init__(self, protocol: Protocol, walker: Walker, seed: str, begins: date, features: tuple[str, ...]) -> None:
        self.protocol, self.walker, self.seed = protocol, walker, seed
        self.ladder = Ladder(protocol.document, walker.side)
        self.chance = random.Random(seed)  # noqa: S311 - a simulation that must come out the same again
        self.day = begins
        first = opening(walker, self._at(time(9)), protocol, features, self._new_id())
        self.facts = [first]
        self.fold = Episode.replay(protocol, [parse_entry(first, protocol)], reference=walker.episode).episode

    def session(self) -> None:
        """One session and what is signed off after it."""
        made = self.begin_session("therapist")
        ordinary(made)
        self.end_session(made)

    def begin_session(self, role: str) -> Session:
        """A session of today, in the making."""
        by, seed = THERAPIST if role == "therapist" else f"ar-{role}", f"{self.seed}/{self.day}"
        return Session(self.protocol, self.fold, self.walker, by=by, role=role, begins=self._at(time(10)), seed=seed)

    def end_session(self, made: Session) -> None:
        """Take what it recorded, and sign off what is proven."""
        self._take(*made.facts)
        at = made.at
        for key in to_sign(self.ladder, self.fold, at):
            at += timedelta(minutes=1)
            self._take(self._fact("sign_off", at, THERAPIST, "therapist", skill=key))

    def change(self, setting: str) -> None:
        """The prosthetist changes something, in the afternoon."""
        more = {"features": sorted(FEATURES)} if setting == "knee" else {}
        self._take(
            self._fact("setting_changed", self._at(time(16)), PROSTHETIST, "prosthetist", setting=setting, **more)
        )

    def rest(self, days: int) -> None:
        """Let days go by."""
        self.day += timedelta(days=days)

    def _at(self, wall: time) -> datetime:
        return datetime.combine(self.day, wall, tzinfo=ZONE)

    def _new_id(self) -> str:
        return str(uuid.UUID(int=self.chance.getrandbits(128), version=4))

    def _fact(self, kind: str, at: datetime, by: str, role: str, **fields: object) -> Fact:
        whole = {
            "episode": self.walker.episode,
            "kind": kind,
            "at": at.isoformat(timespec="seconds"),
            "by": by,
            "role": role,
        }
        return {"id": self._new_id(), **whole, **fields}

    def _take(self, *facts: Fact) -> None:
        for fact in facts:
            self.facts.append(fact)
            self.fold.append(parse_entry(fact, self.protocol))


def careful_course(protocol: Protocol, walker: Walker, seed: str, *, begins: date, facts: int) -> list[Fact]:
    """At least so many facts of somebody who comes twice a week, with a change of the prosthesis now and then."""
    course = Course(protocol, walker, seed, begins, FEATURES)
    sessions = 0
    while len(course.facts) < facts:
        course.session()
        sessions += 1
        if sessions % 9 == 0:
            course.change(CHANGES[sessions // 9 % len(CHANGES)])
        course.rest(course.chance.choice((2, 3, 4, 5)))
    return course.facts
