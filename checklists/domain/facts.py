"""What follows from an entry's shape for the fold, worked out once for each shape and kind of person."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from .document import bars
from .knee import ModeEvent, mode_event
from .plan import Plan, features_mask
from .shape import Shape

if TYPE_CHECKING:
    from .entry import Entry
    from .fold import Fold

Act = Callable[["Fold", "Entry", Any], tuple[int, ...]]  # a step of steps.py, with the facts that it asks for
SAFE, STOPPED, UNSAFE = range(3)
RESULTS = {"safe": SAFE, "stopped": STOPPED, "unsafe": UNSAFE}


class Facts:
    """Facts of any other shape: its skill's number or -1, the skills that fall back, the knee's new features."""

    __slots__ = ("act", "dangerous", "features", "knees", "mask", "mode", "outcome", "skill")

    def __init__(self, shape: Shape, plan: Plan, act: Act | None) -> None:
        fields = shape.fields
        self.act = act
        self.skill = plan.number[shape.skill] if shape.skill else -1
        self.mask = 0
        self.features: int | None = None
        self.knees = 3
        self.outcome: str | None = fields.get("outcome")
        self.mode = _mode_event(shape, plan)
        self.dangerous = _is_dangerous(shape, plan)
        if shape.kind == "setting_changed":
            self.mask = plan.by_setting[fields["setting"]]
            self.features = features_mask(fields["features"]) if "features" in fields else None
            if plan.both:
                self.knees = {"left": 1, "right": 2}.get(fields.get("knee", ""), 3)
        elif shape.kind == "fall":
            self.mask = plan.falls_with[self.skill] if shape.skill else 0


class AttemptFacts:
    """Facts of an attempt: its rung on the person's ladder (-1: off it), and how it stands to every bound."""

    __slots__ = (
        "act", "alone", "barred", "bit", "counts", "covered", "dangerous", "in_bars", "in_hand", "measures", "mode",
        "prerequisites", "result", "rung", "seated", "skill", "stage_ok", "stages",
    )  # fmt: skip  # a list of words

    def __init__(self, shape: Shape, plan: Plan, act: Act) -> None:
        fields, words = shape.fields, plan.protocol.words
        skill = plan.skills[plan.number[fields["skill"]]]
        help_, support = words.help.index(fields["help"]), fields["support"]
        self.act = act
        self.mode: ModeEvent | None = None
        self.skill, self.bit, self.seated = skill.number, skill.bit, skill.seated
        self.prerequisites, self.counts = skill.depends, skill.counts
        self.rung = skill.ladder.index(support) if support in skill.ladder else -1
        self.in_bars = support in bars(words.support)
        self.in_hand = self.in_bars and help_ < 2
        self.alone = help_ == len(words.help) - 1
        self.covered = 0 <= self.rung <= skill.covered
        self.result = RESULTS[fields["result"]]
        self.barred = not skill.barred.isdisjoint(fields.get("deviations", ()))
        self.stages, self.measures = skill.stages, skill.measures
        self.stage_ok = tuple(self.rung >= stage.rung and help_ >= stage.help for stage in skill.stages)
        self.dangerous = self.result == UNSAFE or self.barred


def _mode_event(shape: Shape, plan: Plan) -> ModeEvent | None:
    check = plan.protocol.checks[shape.fields["name"]] if shape.kind == "check" else None
    steps, per_knee = (check.steps, check.per_knee) if check else ((), False)
    return mode_event(shape.fields, steps, per_knee, plan.both)


def _is_dangerous(shape: Shape, plan: Plan) -> bool:
    """Whether striking such an entry out is asked about: `struck_danger` (SEMANTICS.md §4), except for attempts."""
    fields = shape.fields
    if shape.kind == "check":
        return False in fields["steps"].values()
    if shape.kind == "mode_checked":
        return not fields["ok"]
    if shape.kind == "review":
        return bool(fields.get("outcome") == "not_cleared")
    return shape.kind in ("episode_opened", "fall", "setting_changed", "sign_off_withdrawn")
