"""Longer histories that get somewhere: a walk down the ladders with sign-offs, falls, settings and corrections.

Made from a seed, since hypothesis would be slow to draw them piece by piece; short ones of any kind: random_histories.
"""

from __future__ import annotations

from datetime import timedelta
from random import Random
from typing import Any

from tests.domain.random_histories import CHECKS, FEATURES, HELP, SETTINGS, START, SUPPORT, opening, uuid

STEPS = [0, 0, 60, 60, 60, 60, 1800, 1801, 36000, 86400, 86400, 2 * 86400, 4 * 86400]
KINDS = (
    ["attempt"] * 16
    + ["sign_off"] * 3
    + ["check", "mode_set", "mode_checked"] * 2
    + ["setting_changed", "fall", "review", "sign_off_withdrawn", "session_closed", "near_miss", "struck_out"]
)


class Walk:
    """One person's history: the skills in focus climb, everything else happens now and then."""

    def __init__(self, document: dict[str, Any], seed: int) -> None:
        self.random = Random(seed)
        self.document = document
        self.side = self.random.choice(["left", "left", "both"])
        self.focus = self.random.sample(document["skills"], self.random.randint(1, 3))
        self.lines = [opening(self.side)] if self.random.random() < 0.9 else []
        self.clock = timedelta()
        self.falls: list[str] = []

    def history(self) -> list[dict[str, Any]]:
        for number in range(1, self.random.randint(6, 34)):
            self.clock += timedelta(seconds=self.random.choice(STEPS))
            self.lines.append(self._entry(number))
        if self.random.random() < 0.3:
            self.random.shuffle(self.lines)
        if self.random.random() < 0.2:
            self.lines.append(self.random.choice(self.lines))
        return self.lines

    def _entry(self, number: int) -> dict[str, Any]:
        pick = self.random.choice
        kind = pick(KINDS)
        offset, written = pick([(0, "Z"), (0, "Z"), (14, "+14:00")])
        at = (START + self.clock + timedelta(hours=offset)).strftime("%Y-%m-%dT%H:%M:%S") + written
        entry: dict[str, Any] = {"id": uuid(number), "episode": "E", "kind": kind, "at": at, "by": "T"}
        entry["role"] = self._role()
        if self.random.random() < 0.2:
            entry["seq"] = self.random.randint(0, 2)
        return {**entry, **self._fields(kind, entry["id"], number)}

    def _role(self) -> str:
        return self.random.choice(["therapist", "therapist", "assistant", "prosthetist"])

    def _fields(self, kind: str, name: str, number: int) -> dict[str, Any]:
        pick, skill = self.random.choice, self.random.choice(self.focus)
        if kind == "attempt":
            return self._attempt(skill)
        if kind in ("sign_off", "sign_off_withdrawn"):
            return {"skill": skill["key"]}
        if kind == "check":
            name = pick(list(CHECKS))
            steps = {step: self.random.random() < 0.8 for step in CHECKS[name] if self.random.random() < 0.8}
            return {"name": name, "steps": steps, **self._knee()}
        if kind == "mode_set":
            return {"mode": pick(["walking", "locked", "free_swing"]), "support": pick(SUPPORT), **self._knee()}
        if kind == "mode_checked":
            mode = pick(["walking", "locked", "free_swing"])
            return {"mode": mode, "ok": self.random.random() < 0.7, **self._knee()}
        if kind == "setting_changed":
            setting = pick([*SETTINGS, *skill["falls_back_on"]])
            features = {"features": pick([FEATURES, ["yielding", "lock"], ["lock"]])} if setting == "knee" else {}
            return {"setting": setting, **features, **self._knee()}
        if kind == "fall":
            self.falls.append(name)
            return {"injury": "none", **({"skill": skill["key"]} if self.random.random() < 0.7 else {})}
        if kind == "review" and self.falls:
            return {"of": [pick(self.falls)], "outcome": pick(["cleared", "cleared", "not_cleared"])}
        if kind == "struck_out":
            return {"entry": uuid(self.random.randint(0, number + 2)), "reason": "r"}
        return {}

    def _knee(self) -> dict[str, str]:
        return {"knee": self.random.choice(["left", "right"])} if self.random.random() < 0.5 else {}

    def _attempt(self, skill: dict[str, Any]) -> dict[str, Any]:
        """Mostly safe, mostly a rung or so below the last safe one."""
        variant = skill.get("both", {}) if self.side == "both" else {}
        ladder = variant.get("rungs", skill["rungs"])
        tried = [line for line in self.lines if line["kind"] == "attempt" and line["skill"] == skill["key"]]
        reached = sum(1 for line in tried if line["result"] == "safe")
        rung = min(max(reached + self.random.choice([-2, -1, 0, 0, 0, 1]), 0), len(ladder) - 1)
        fields: dict[str, Any] = {
            "skill": skill["key"],
            "support": ladder[rung] if self.random.random() < 0.95 else skill["rungs"][-1],
            "help": self.random.choice(HELP),
            "result": self.random.choice(["safe"] * 8 + ["unsafe", "stopped"]),
        }
        if self.random.random() < 0.15:
            fields["deviations"] = [self.random.choice(["trunk", "toe", "lost"])]
        if self.random.random() < 0.7:
            fields["measures"] = {"share": self.random.choice([1, 1, 2, 2, 0, 3])}
        return fields
