"""Every skill's status with its reasons in plain words (SEMANTICS.md §5)."""

from typing import Any, NamedTuple

from .fold import ALLOWED, CLEARED, DAYS, FELL, MET, NOT_CLEARED, RUN, RUNGS, SIGNED, STAGE, TRIED, Fold
from .kinds import FEATURES
from .plan import PlannedSkill, PlannedStage
from .words import day_of, days, listed, said, utc

_FELL_BACK = {
    "gap": "there was a long time without an attempt",
    "unsafe": "two attempts close together were unsafe",
    "fall": "there was a fall",
    "withdrawn": "the sign-off was withdrawn",
    "knee": "the knee was exchanged",
    "footwear": "the footwear was changed",
}


class SkillStatus(NamedTuple):
    """A skill at an instant. `stage` counts from 0; `support` and `help` are what the stage asks for (help None: any);
    `allowed` is the rung with the least support that may be tried; instants are texts, `lapses_at` in UTC."""

    status: str
    reasons: tuple[str, ...]
    stage: int
    stages: int
    support: str
    help: str | None
    run: int
    in_a_row: int
    days: int
    days_needed: int
    met: bool
    tried: bool
    allowed: str
    proven_rungs: dict[str, tuple[str, str]]
    signed_at: str | None
    signed_by: str | None
    lapses_at: str | None
    fell_back_at: str | None
    fell_back_on: str | None
    missing: tuple[str, ...]
    open_falls: tuple[str, ...]


def statuses(fold: Fold, at: int) -> dict[str, SkillStatus]:
    """The status of every skill, in the document's order."""
    current = fold.signed_at(at)
    return {skill.skill.key: status(fold, skill, at, current) for skill in fold.plan.skills}


def status(fold: Fold, skill: PlannedSkill, at: int, current: int) -> SkillStatus:
    """The status of one skill with all that a reader asks about it; `current` is the mask of what is signed off."""
    state = fold.skills[skill.number]
    word, stage, signed = fold.status(skill.number, at, current), skill.stages[state[STAGE]], state[SIGNED]
    stage_asks = skill.skill.criterion(fold.plan.both).stages[state[STAGE]]
    missing = tuple([one.skill.key for one in fold.plan.members(skill.depends & fold.applicable & ~current)])
    falls = _open_falls(fold, skill)
    fell = state[FELL] or (None, None)
    lapses = utc(signed[0] + skill.valid) if signed and skill.valid is not None else None
    return SkillStatus(
        status=word,
        reasons=_reasons(word, fold, skill, missing, falls, lapses),
        stage=state[STAGE],
        stages=len(skill.stages),
        support=stage_asks.support,
        help=stage_asks.help,
        run=stage.in_a_row if state[MET] else state[RUN],
        in_a_row=stage.in_a_row,
        days=stage.days if state[MET] else len(state[DAYS]),
        days_needed=stage.days,
        met=bool(state[MET]),
        tried=bool(state[TRIED]),
        allowed=skill.ladder[min(state[ALLOWED], len(skill.ladder) - 1)],
        proven_rungs={skill.ladder[int(rung)]: (one[0], one[1]) for rung, one in state[RUNGS].items()},
        signed_at=signed[1] if signed else None,
        signed_by=signed[2] if signed else None,
        lapses_at=lapses,
        fell_back_at=fell[0],
        fell_back_on=fell[1],
        missing=missing,
        open_falls=tuple(falls),
    )


def _open_falls(fold: Fold, skill: PlannedSkill) -> list[str]:
    if not fold.open_falls & skill.counts:
        return []
    plan = fold.plan
    return [
        id_
        for id_, (of, _, seen) in fold.falls.items()
        if seen != CLEARED and (plan.no_skill if of < 0 else 1 << of) & skill.counts
    ]


def _reasons(
    word: str, fold: Fold, skill: PlannedSkill, missing: tuple[str, ...], falls: list[str], lapses: str | None
) -> tuple[str, ...]:
    if word == "not_applicable":
        lacks = [one.replace("_", " ") for one in FEATURES if one in _lacking_features(fold, skill)]
        return (f"The knee, as recorded, lacks: {listed(lacks)}.",)
    said_first: list[str] = []
    state = fold.skills[skill.number]
    if word in ("suspended", "lapsed", "signed_off"):
        said_first = _about_sign_off(word, state, lapses)
        if word == "signed_off":
            return tuple(said_first)
    if missing:
        said_first.append(_about_missing(fold, missing))
    said_first += [_about_fall(fold.falls[id_]) for id_ in falls]
    if word == "training" and state[FELL] and not state[RUN]:
        said_first.append(f"Began anew on {day_of(state[FELL][0])}: {_why(state[FELL][1])}.")
    return (*said_first, evidence(fold, skill))


def _lacking_features(fold: Fold, skill: PlannedSkill) -> list[str]:
    lacks = skill.needs & ~(fold.features[0] & fold.features[1])
    return [feature for bit, feature in enumerate(FEATURES) if lacks >> bit & 1]


def _about_sign_off(word: str, state: list[Any], lapses: str | None) -> list[str]:
    _, at, by = state[SIGNED]
    signed = f"Signed off on {day_of(at)} by {by}"
    if word == "suspended":
        when, why = state[FELL]
        return [f"{signed}; on {day_of(when)} {_why(why)}, so it must be proven again."]
    if lapses is None:
        return [f"{signed}."]
    return [f"{signed}; {'lapsed on' if word == 'lapsed' else 'valid until'} {day_of(lapses)}."]


_NAMED = 3  # more prerequisites than this are counted: a reader wants the next ones, not all that follow


def _about_missing(fold: Fold, missing: tuple[str, ...]) -> str:
    titles = [fold.plan.skills[fold.plan.number[key]].skill.title for key in missing]
    more = len(titles) - _NAMED
    named = "; ".join(titles[:_NAMED]) + (f"; and {more} more" if more > 0 else "")
    return f"Not yet signed off, or no longer current: {named}."


def _about_fall(fall: list[Any]) -> str:
    if fall[2] == NOT_CLEARED:
        return f"The fall of {day_of(fall[1])} was reviewed and is not cleared."
    return f"The fall of {day_of(fall[1])} waits for its review."


def _why(cause: str) -> str:
    return _FELL_BACK.get(cause, f"the {cause} was changed")


def evidence(fold: Fold, skill: PlannedSkill) -> str:
    """How far the evidence is: '2 of 3 safe attempts in a row; one more day needed'."""
    state = fold.skills[skill.number]
    if state[MET]:
        return "Proven again: may be signed." if state[SIGNED] else "Proven: may be signed."
    stage = skill.stages[state[STAGE]]
    run = min(state[RUN], stage.in_a_row)  # more than are asked for, on too few days, are not '3 of 2'
    words = f"{run} of {stage.in_a_row} safe attempts in a row"
    short = stage.days - len(state[DAYS])
    if stage.days > 1 and short > 0 and state[RUN]:
        words += f"; {days(short)} needed"
    elif stage.days > 1 and not state[RUN]:
        words += f", on {stage.days} days"
    return f"{words} {_asked(fold, skill, stage, state[STAGE])}."


def _asked(fold: Fold, skill: PlannedSkill, stage: PlannedStage, number: int) -> str:
    asked = said(skill.ladder[stage.rung])
    if len(skill.stages) > 1:
        asked += f", stage {number + 1} of {len(skill.stages)}"
    return f"({asked})"


def sign_off_lacks(fold: Fold, skill: PlannedSkill, at: int, lacks: tuple[str, ...]) -> tuple[str, ...]:
    """What a sign-off would lack, one sentence each."""
    missing = tuple(one.skill.key for one in fold.plan.members(fold.missing(skill.depends, at)))
    features = [one.replace("_", " ") for one in _lacking_features(fold, skill)]
    sentences = {
        "feature": f"The knee, as recorded, lacks: {listed(features)}." if features else "",
        "evidence": f"The evidence is not complete: {evidence(fold, skill)}",
        "prerequisite": _about_missing(fold, missing),
        "fall": " ".join(_about_fall(fold.falls[id_]) for id_ in _open_falls(fold, skill)),
        "gap": f"There was no attempt for more than {fold.plan.gap_days} days.",
    }
    return tuple(sentences[word] for word in lacks)
