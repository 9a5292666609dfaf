"""A protocol's skills as numbers and bit masks, for a person with one prosthesis or with two.

Skill number n is bit n of every mask; one bit more stands for 'a fall that names no skill'.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from .document import Range, Skill, in_bars, reached
from .instant import DAY
from .kinds import FEATURES, SETTINGS

if TYPE_CHECKING:
    from .protocol import Protocol


@dataclass(frozen=True, slots=True)
class PlannedStage:
    """A stage of the evidence: least rung and help (as numbers, more is less support), how often, on how many days."""

    rung: int
    in_a_row: int
    days: int
    help: int


@dataclass(frozen=True, slots=True)
class PlannedSkill:
    """One skill as the fold works with it."""

    skill: Skill
    number: int
    bit: int
    ladder: tuple[str, ...]
    stages: tuple[PlannedStage, ...]
    barred: frozenset[str]
    measures: tuple[tuple[str, Range], ...]
    covered: int  # a sign-off reaches down to this rung
    depends: int  # mask of all that `after` reaches
    counts: int  # mask of the falls that count for it: its own, those of what it depends on, and those of no skill
    needs: int  # mask of features
    valid: int | None  # microseconds
    seated: bool


class Plan:
    """The ladder, criteria and masks that hold for a person."""

    def __init__(self, protocol: "Protocol", both: bool) -> None:
        self.protocol = protocol
        self.both = both
        self.keys = tuple(protocol.skills)
        self.number = {key: number for number, key in enumerate(self.keys)}
        self.no_skill = 1 << len(self.keys)
        self.everything = self.no_skill - 1
        self.gap_days = protocol.gap_days
        self.fall_review = protocol.fall_review_days * DAY
        self.skills = tuple(self._skill(key) for key in self.keys)
        self.seated = self._mask(one.number for one in self.skills if one.seated)
        self.in_bars = self._mask(one.number for one in self.skills if in_bars(one.ladder, protocol.words.support))
        self.by_setting = {
            setting: self._mask(one.number for one in self.skills if setting in one.skill.falls_back_on)
            for setting in SETTINGS
        }
        self.falls_with = tuple(  # what falls back with a fall of skill n: it, and all that depends on it
            1 << n | self._mask(one.number for one in self.skills if one.depends >> n & 1)
            for n in range(len(self.keys))
        )

    def _mask(self, numbers: Iterable[int]) -> int:
        return sum(1 << number for number in set(numbers))

    def _skill(self, key: str) -> PlannedSkill:
        skill = self.protocol.skills[key]
        number, ladder, proven = self.number[key], skill.ladder(self.both), skill.criterion(self.both)
        depends = self._mask(self.number[one] for one in reached(key, self.protocol.skills))
        stages = tuple(
            PlannedStage(
                ladder.index(stage.support),
                stage.in_a_row,
                stage.days,
                self.protocol.help.index(stage.help) if stage.help is not None else 0,
            )
            for stage in proven.stages
        )
        return PlannedSkill(
            skill,
            number,
            1 << number,
            ladder,
            stages,
            frozenset(proven.barred),
            tuple(proven.measures.items()),
            covered=stages[-1].rung,
            depends=depends,
            counts=depends | 1 << number | self.no_skill,
            needs=features_mask(skill.needs),
            valid=skill.valid_days * DAY if skill.valid_days is not None else None,
            seated="seated" in skill.tags,
        )

    def applicable(self, features: int) -> int:
        """The mask of the skills that a knee with these features allows."""
        return self._mask(one.number for one in self.skills if one.needs & ~features == 0)

    def members(self, mask: int) -> list[PlannedSkill]:
        """The skills of a mask, in the document's order."""
        found = []
        while mask:
            lowest = mask & -mask
            found.append(self.skills[lowest.bit_length() - 1])
            mask ^= lowest
        return found


def features_mask(features: Iterable[str]) -> int:
    """Features of a knee as a bit mask."""
    return sum(1 << FEATURES.index(feature) for feature in set(features))
