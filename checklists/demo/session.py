"""One simulated session of a careful clinician, as entries. Pure: the fold of the episode goes in, the facts come out.

Each fact is appended to a fold of the session's own as soon as it is planned, so that the next step knows the last, and
every attempt is asked of the core's own advice first: what it warns of is left out. Mistakes are made elsewhere.
"""

from __future__ import annotations

import random
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from checklists.demo.ladder import Ladder
from checklists.domain import Episode, Protocol, parse_entry

Fact = dict[str, Any]
START_STEPS = ("skin", "fit", "footwear", "mode")


@dataclass(frozen=True, slots=True)
class Walker:
    """What the simulator must know of somebody who learns to walk. `skill` is the chance that an attempt goes well."""

    episode: str
    side: str
    skill: float = 0.94
    skills_a_session: int = 4

    @property
    def knees(self) -> tuple[str | None, ...]:
        """What to name in a fact about one knee: nothing where there is only one."""
        return ("left", "right") if self.side == "both" else (None,)


class Session:
    """A session in the making. `begins` is in the site's zone, since a record is written with the site's offset."""

    def __init__(
        self, protocol: Protocol, fold: Episode, walker: Walker, *, by: str, role: str, begins: datetime, seed: str
    ) -> None:
        self.protocol, self.walker, self.by, self.role = protocol, walker, by, role
        self.fold = Episode.restore(protocol, fold.snapshot())
        self.chance = random.Random(seed)  # noqa: S311 - a simulation that must come out the same again
        self.at, self.seq = begins, 0
        self.facts: list[Fact] = []

    def add(self, kind: str, *, after_s: int = 60, **fields: Any) -> Fact:
        """Let some time pass, then record a fact and let the fold learn of it."""
        self.at += timedelta(seconds=after_s)
        fact: Fact = {
            "id": str(uuid.UUID(int=self.chance.getrandbits(128), version=4)),
            "episode": self.walker.episode,
            "kind": kind,
            "at": self.at.isoformat(timespec="seconds"),
            "by": self.by,
            "role": self.role,
        }
        fact |= {name: value for name, value in fields.items() if value is not None}
        self.facts.append(fact)
        self.fold.append(parse_entry(fact, self.protocol))
        return fact

    def open(self) -> None:
        """Open it and do the start-of-session check."""
        self.add("session_opened", after_s=0)
        self.start_check()

    def start_check(self) -> None:
        """Skin, fit, footwear, mode: all good."""
        self.add("check", after_s=150, name="start_of_session", steps=dict.fromkeys(START_STEPS, True))

    def close(self) -> None:
        """Do the end-of-session check and close."""
        self.add("check", after_s=90, name="end_of_session", steps={"mode": True, "skin": True})
        self.add("session_closed", after_s=30)

    def attempt(self, skill: str, support: str, help_: str, result: str = "safe", **more: Any) -> Fact:
        """Record an attempt, advised or not."""
        pause = self.chance.randint(50, 130)
        return self.add("attempt", after_s=pause, skill=skill, support=support, help=help_, result=result, **more)

    def advised(self, skill: str, support: str, help_: str) -> bool:
        """Would the tablet stay silent, were this attempted a moment from now?"""
        planned = {"kind": "attempt", "skill": skill, "support": support, "help": help_}
        return self.fold.advise(planned, at=self.at + timedelta(seconds=50), role=self.role).allowed


def ordinary(session: Session) -> None:
    """A whole session: checks, what is worth working on, checks."""
    session.open()
    work(session)
    session.close()


def work(session: Session) -> None:
    """The part at the bars: one skill that is known already, then those that come next in the climbing order."""
    statuses = session.fold.status_words(session.at)
    ladder = Ladder(session.protocol.document, session.walker.side)
    known = [key for key in ladder.order if statuses[key] == "signed_off" and key not in CYCLES]
    if known:
        key = session.chance.choice(known)
        stage = ladder.stages(key)[-1]
        _try(session, ladder, key, stage["support"], stage.get("help", "watching"))
    worked = 0
    for key in ladder.next_up(statuses):
        if worked >= session.walker.skills_a_session:
            break
        worked += 1 if CYCLES.get(key, _practise)(session, ladder, key) else 0


def _practise(session: Session, ladder: Ladder, key: str) -> bool:
    """Try a skill until it is proven, it goes wrong twice, or it is enough for a day. True when anything was tried."""
    tried = wrong = 0
    enough = max(stage["in_a_row"] for stage in ladder.stages(key)) + session.chance.randint(2, 4)
    while tried < enough and wrong < 2:
        step = ladder.next_step(key, session.fold.status(key, session.at))
        went_well = _try(session, ladder, key, *step) if step else None
        if went_well is None:
            break
        tried += 1
        wrong += 0 if went_well else 1
    return tried > 0


def _try(session: Session, ladder: Ladder, key: str, support: str, help_: str) -> bool | None:
    """One attempt with a plausible result: whether it counts. Nothing where the core advises against it."""
    if not session.advised(key, support, help_):
        return None
    chance, luck = session.chance, session.chance.random()
    measures = ladder.measured(key, chance, well=True)
    if luck < session.walker.skill:
        session.attempt(key, support, help_, measures=measures)
        return True
    barred = ladder.barred(key)
    if luck > 0.985:
        session.attempt(key, support, help_, "unsafe", deviations=barred[:1])
    elif luck > 0.97 or not (barred or measures):
        session.attempt(key, support, help_, "stopped")
    elif barred and chance.random() < 0.6:
        session.attempt(key, support, help_, deviations=[chance.choice(barred)], measures=measures)
    else:
        session.attempt(key, support, help_, measures=ladder.measured(key, chance, well=not measures))
    return False


def _lock_cycle(session: Session, ladder: Ladder, key: str) -> bool:
    """Lock in and proven, out and proven, once for each knee; the attempt is recorded when the cycle is complete."""
    for knee in session.walker.knees:
        step = ladder.next_step(key, session.fold.status(key, session.at))
        if step is None or not session.advised(key, *step):
            return False
        where = step[0]
        session.add("mode_set", mode="locked", support=where, knee=knee)
        lock_in = {"straight": True, "caught": True, "loaded": True}
        session.add("check", after_s=25, name="lock_in", steps=lock_in, knee=knee)
        session.add("mode_set", after_s=90, mode="walking", support=where, knee=knee)
        session.add("check", after_s=25, name="lock_out", steps={"released": True, "bends": True}, knee=knee)
        session.attempt(key, *step)
    return True


def _free_swing(session: Session, ladder: Ladder, key: str) -> bool:
    """Free swing on, felt in the bars or used on the bicycle, off, and proven off under load."""
    done = False
    for _ in range(2):
        step = ladder.next_step(key, session.fold.status(key, session.at))
        if step is None or not session.advised(key, *step):
            break
        for knee in session.walker.knees:
            session.add("mode_set", mode="free_swing", support=step[0], knee=knee)
            on = {"on": True} if step[0] == "bars_both" else {"seated": True, "on": True}
            session.add("check", after_s=20, name="free_swing_on", steps=on, knee=knee)
        session.attempt(key, *step)
        for knee in session.walker.knees:
            session.add("mode_set", after_s=240, mode="walking", support=step[0], knee=knee)
            off = {"off": True, "loaded": True}
            session.add("check", after_s=40, name="free_swing_off", steps=off, knee=knee)
        done = True
    return done


# Skills that are a procedure of modes and checks, not an attempt by itself.
CYCLES = {"lock_use": _lock_cycle, "free_swing_use": _free_swing}
