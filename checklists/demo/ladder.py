"""How a protocol's document reads for one person: skills in order, their rungs, and what the next attempt would be."""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Any

from checklists.domain import SkillStatus

URGENT_FIRST = ("suspended", "lapsed", "training", "open")
PLAUSIBLE = {  # well inside the criterion, and outside it; both are numbers that a tape or a scale might show
    "load_share": ((46, 54), (31, 38)),
    "held_s": ((11, 25), (4, 8)),
    "steps": ((20, 28), (11, 18)),
    "step_ratio": ((0.93, 1.06), (0.71, 0.86)),
    "foot_contact": ((30, 48), (55, 70)),
}


class Ladder:
    """The document as it holds for somebody's side."""

    def __init__(self, document: Mapping[str, Any], side: str) -> None:
        self._help: list[str] = document["help"]
        self._skills: dict[str, dict[str, Any]] = {}
        for skill in document["skills"]:
            both = skill.get("both", {}) if side == "both" else {}
            self._skills[skill["key"]] = {**skill, **both}
        self.order = list(self._skills)

    def rungs(self, key: str) -> list[str]:
        """The rungs of a skill, from most support to least."""
        return list(self._skills[key]["rungs"])

    def stages(self, key: str) -> list[dict[str, Any]]:
        """The stages of the criterion."""
        proven = self._skills[key]["proven"]
        return list(proven.get("stages") or [proven])

    def barred(self, key: str) -> list[str]:
        """The deviations that make an attempt of the skill not count."""
        return list(self._skills[key]["proven"].get("barred", []))

    def measured(self, key: str, chance: random.Random, *, well: bool) -> dict[str, float] | None:
        """Plausible numbers for the measures that the criterion names; nothing where it names none."""
        found = {}
        for name in self._skills[key]["proven"].get("measures", {}):
            low, high = PLAUSIBLE[name][0 if well else 1]
            value = chance.uniform(low, high)
            found[name] = round(value, 2) if name == "step_ratio" else float(round(value))
        return found or None

    def next_up(self, words: Mapping[str, str]) -> list[str]:
        """Skills worth working on, by status: those that fell back first, then what has begun, then what is new."""
        return sorted(
            (key for key in self.order if words[key] in URGENT_FIRST), key=lambda key: URGENT_FIRST.index(words[key])
        )

    def next_step(self, key: str, status: SkillStatus) -> tuple[str, str] | None:
        """Support and help of the next attempt: the rung that is allowed, but not beyond the stage in hand."""
        if status.met:
            return None
        rungs: list[str] = self._skills[key]["rungs"]
        stage = self.stages(key)[status.stage]
        wanted, allowed = rungs.index(stage["support"]), rungs.index(status.allowed)
        if allowed < wanted:  # on the way down the ladder somebody stands closer than the criterion asks
            closer = max(0, self._help.index(stage.get("help", "watching")) - 1)
            return rungs[allowed], self._help[closer]
        return rungs[wanted], stage.get("help", "watching")
