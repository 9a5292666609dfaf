"""Builds the record of an invented person's course, one entry after another on a clock of its own."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

FIRST_DAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)  # a Monday
EPISODE = "course"
STEP = timedelta(minutes=2)

# Measures inside the default protocol's criteria.
GOOD: dict[str, dict[str, float]] = {
    "sit_stand": {"load_share": 48},
    "stand_load": {"load_share": 47, "held_s": 12},
    "short_steps": {"steps": 24},
    "even_walk": {"step_ratio": 0.97},
    "stair_edge": {"foot_contact": 45},
}
ROLES = {"therapist": "T1", "assistant": "A1", "prosthetist": "P1"}
FEATURES = ["lock", "free_swing", "yielding", "resistance"]


class Course:
    """Every method adds entries at the course's clock, which moves on by itself."""

    def __init__(self, features: list[str] = FEATURES, side: str = "left") -> None:
        self.entries: list[dict[str, Any]] = []
        self.clock = FIRST_DAY - timedelta(days=3)
        self.number = 0
        self.add("episode_opened", side=side, features=features, protocol="above_knee@1")

    def add(self, kind: str, role: str = "therapist", **fields: Any) -> str:
        """One entry; its id, so that a later one can name it."""
        self.number += 1
        name = f"00000000-0000-4000-8000-{self.number:012d}"
        at = self.clock.strftime("%Y-%m-%dT%H:%M:%SZ")
        common = {"id": name, "episode": EPISODE, "kind": kind, "at": at, "by": ROLES[role], "role": role}
        self.entries.append({**common, **fields})
        self.clock += STEP
        return name

    def come(self, day: int) -> None:
        """The day's clock, 1 being the first Monday, and a session opened."""
        self.clock = FIRST_DAY + timedelta(days=day - 1)
        self.add("session_opened")

    def start_check(self, **found: bool) -> str:
        return self.check("start_of_session", **{"skin": True, "fit": True, "footwear": True, "mode": True, **found})

    def begin(self, day: int) -> None:
        self.come(day)
        self.start_check()

    def end(self) -> str:
        """The end check and the session closed; the id of the closing."""
        self.check("end_of_session", mode=True, skin=True)
        return self.add("session_closed")

    def check(self, name: str, **steps: bool) -> str:
        return self.add("check", name=name, steps=steps)

    def set_mode(self, mode: str, support: str | None = None) -> str:
        return self.add("mode_set", mode=mode, **({"support": support} if support else {}))

    def tries(self, skill: str, support: str, times: int = 1, help: str = "watching", **more: Any) -> str:  # noqa: A002 - the record's own word
        """Attempts, safe and within the criterion's measures unless told otherwise; the id of the last."""
        measures = {"measures": GOOD[skill]} if skill in GOOD else {}
        fields = {"result": "safe", **measures, **more}
        names = [self.add("attempt", skill=skill, support=support, help=help, **fields) for _ in range(times)]
        return names[-1]

    def climb(self, skill: str, *rungs: str, help: str = "watching") -> None:  # noqa: A002 - the record's own word
        """One safe attempt on each rung, one after another."""
        for rung in rungs:
            self.tries(skill, rung, help=help)

    def sign(self, *skills: str) -> None:
        for skill in skills:
            self.add("sign_off", skill=skill)

    def lock_cycle(self, support: str) -> None:
        """Lock in, verified; lock out, verified; the attempt's result is known at the end."""
        self.set_mode("locked", support)
        self.check("lock_in", straight=True, caught=True, loaded=True)
        self.set_mode("walking", support)
        self.check("lock_out", released=True, bends=True)
        self.tries("lock_use", support)

    def free_swing_cycle(self, support: str, help: str = "watching") -> None:  # noqa: A002 - the record's own word
        """On, in the bars or seated on the bicycle (support none); off, and proven off under load."""
        self.set_mode("free_swing", support)
        self.check("free_swing_on", seated=support == "none", on=True)
        self.set_mode("walking", support)
        self.check("free_swing_off", off=True, loaded=True)
        self.tries("free_swing_use", support, help=help)
