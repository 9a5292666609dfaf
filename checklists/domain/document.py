"""The parts of a protocol document except its rules: words, measures, checks and skills (SEMANTICS.md §2)."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from .kinds import FEATURES, SETTINGS
from .places import Spot
from .vocabulary import ONE_SIDED, RAILS, Vocabulary

T = TypeVar("T")
Range = tuple[float | None, float | None]
_TEXTS = ("source", "note")


@dataclass(frozen=True, slots=True)
class Word:
    """A deviation that an attempt may show."""

    key: str
    title: str


@dataclass(frozen=True, slots=True)
class Measure:
    """A number that an attempt may have been measured with."""

    key: str
    title: str
    unit: str


@dataclass(frozen=True, slots=True)
class Check:
    """A checklist with its steps in order; `per_knee`: whoever has two knees must be asked which."""

    key: str
    title: str
    steps: tuple[str, ...]
    per_knee: bool


@dataclass(frozen=True, slots=True)
class Stage:
    """A stage of the evidence: so many attempts in a row, on so many days, on this support or less; help None: any."""

    support: str
    in_a_row: int
    days: int
    help: str | None


@dataclass(frozen=True, slots=True)
class Proven:
    """When a skill is proven: its stages in order, what must not be seen, and measures that must lie in a range."""

    stages: tuple[Stage, ...]
    barred: tuple[str, ...]
    measures: dict[str, Range]


@dataclass(frozen=True, slots=True)
class Skill:
    """A skill as the document has it; `both_rungs` and `both_proven` are those of a person with two prostheses."""

    key: str
    title: str
    after: tuple[str, ...]
    needs: tuple[str, ...]
    tags: tuple[str, ...]
    rungs: tuple[str, ...]
    proven: Proven
    both_rungs: tuple[str, ...]
    both_proven: Proven
    falls_back_on: tuple[str, ...]
    valid_days: int | None
    watch: tuple[str, ...]

    def ladder(self, both: bool) -> tuple[str, ...]:
        """The rungs that hold for a person, most support first."""
        return self.both_rungs if both else self.rungs

    def criterion(self, both: bool) -> Proven:
        """What must be shown by a person with one prosthesis, or with two."""
        return self.both_proven if both else self.proven


def keyed(spot: Spot | None, read: Callable[[Spot], T]) -> dict[str, T]:
    """Objects by their key, refusing a key that is used twice; the reader checks the rest of each."""
    found: dict[str, T] = {}
    for item in spot.items() if spot else ():
        value = read(item)
        key = item.at("key")
        if key.value in found:
            key.refuse(f"{key.value!r} is used twice")
        found[key.value] = value
    return found


def texts(parts: dict[str, Spot]) -> None:
    """Check the optional texts for people."""
    for name in _TEXTS:
        if name in parts:
            parts[name].text()


def read_words(spot: Spot | None) -> dict[str, Word]:
    """The deviations."""

    def one(item: Spot) -> Word:
        parts = item.fields(("key", "title"), _TEXTS)
        texts(parts)
        return Word(parts["key"].text(), parts["title"].text())

    return keyed(spot, one)


def read_measures(spot: Spot | None) -> dict[str, Measure]:
    """The measures with their units."""

    def one(item: Spot) -> Measure:
        parts = item.fields(("key", "title", "unit"), _TEXTS)
        texts(parts)
        return Measure(parts["key"].text(), parts["title"].text(), parts["unit"].text())

    return keyed(spot, one)


def read_checks(spot: Spot | None) -> dict[str, Check]:
    """The checklists."""

    def one(item: Spot) -> Check:
        parts = item.fields(("key", "title", "steps"), ("per_knee", *_TEXTS))
        texts(parts)
        per_knee = parts["per_knee"].flag() if "per_knee" in parts else False
        return Check(parts["key"].text(), parts["title"].text(), parts["steps"].words(once=True), per_knee)

    return keyed(spot, one)


def read_skills(spot: Spot | None, words: Vocabulary) -> dict[str, Skill]:
    """The skills, their prerequisites known and without a circle."""
    skills = keyed(spot, lambda item: _skill(item, words))
    places = dict(zip(skills, spot.items() if spot else (), strict=True))
    for key, skill in skills.items():
        if skill.after:
            places[key].at("after").words(skills, "skill")
    for key in skills:
        if key in reached(key, skills):
            places[key].at("after").refuse(f"the prerequisites of {key!r} make a circle")
    return skills


def reached(key: str, skills: dict[str, Skill]) -> set[str]:
    """All skills on which this one depends: that `after` reaches, directly or through others (SEMANTICS.md §5)."""
    found: set[str] = set()
    open_ = list(skills[key].after)
    while open_:
        one = open_.pop()
        if one not in found:
            found.add(one)
            open_.extend(skills[one].after)
    return found


def bars(support: Sequence[str]) -> Sequence[str]:
    """The parallel bars: the first two of a document's `support` (SEMANTICS.md §4, *in hand*)."""
    return support[:2]


def in_bars(ladder: Iterable[str], support: Sequence[str]) -> bool:
    """Whether a skill with this ladder can be tried in the bars."""
    return not set(bars(support)).isdisjoint(ladder)


_SKILL_REQUIRED = ("key", "title", "rungs", "proven")
_SKILL_OPTIONAL = ("after", "needs", "tags", "both", "falls_back_on", "valid_days", "watch", *_TEXTS)


def _skill(spot: Spot, words: Vocabulary) -> Skill:
    parts = spot.fields(_SKILL_REQUIRED, _SKILL_OPTIONAL)
    texts(parts)
    rungs = _rungs(parts["rungs"], words.support)
    proven = _proven(parts["proven"], rungs, words)
    both_rungs, both_proven = _both(spot.place, parts, rungs, proven, words)
    return Skill(
        key=parts["key"].text(),
        title=parts["title"].text(),
        after=parts["after"].words() if "after" in parts else (),
        needs=parts["needs"].words(FEATURES, "feature") if "needs" in parts else (),
        tags=parts["tags"].words() if "tags" in parts else (),
        rungs=rungs,
        proven=proven,
        both_rungs=both_rungs,
        both_proven=both_proven,
        falls_back_on=parts["falls_back_on"].words(SETTINGS, "setting") if "falls_back_on" in parts else (),
        valid_days=parts["valid_days"].integer(1) if "valid_days" in parts else None,
        watch=tuple(item.text() for item in parts["watch"].items()) if "watch" in parts else (),
    )


def _rungs(spot: Spot, order: tuple[str, ...]) -> tuple[str, ...]:
    rungs = spot.words(order, "rung", once=True)
    if not rungs:
        spot.refuse("must not be empty")
    if list(rungs) != sorted(rungs, key=order.index):
        spot.refuse("must run from most to least support, in the order of `support`")
    return rungs


def _both(
    place: str, parts: dict[str, Spot], rungs: tuple[str, ...], proven: Proven, words: Vocabulary
) -> tuple[tuple[str, ...], Proven]:
    """The rungs and the criterion of a person with two prostheses, for whom neither rail is that of a side."""
    inner = parts["both"].fields((), ("rungs", "proven")) if "both" in parts else {}
    if "both" in parts and not inner:
        parts["both"].refuse("must replace rungs, proven or both of them")
    if "rungs" in inner:
        rungs = _both_rungs(inner["rungs"], words.support)
    elif any(rung in ONE_SIDED for rung in rungs):
        Spot(None, f"{place}.both").refuse(
            "a rail of one side needs `both.rungs`: what a person with two prostheses uses in its place"
        )
    if "proven" in inner:
        return rungs, _proven(inner["proven"], rungs, words)
    if "rungs" in inner:
        return rungs, _proven(parts["proven"], rungs, words)
    return rungs, proven


def _both_rungs(spot: Spot, support: tuple[str, ...]) -> tuple[str, ...]:
    order: list[str] = []
    for word in support:
        order += (*RAILS, word) if word == ONE_SIDED[0] else (word,)
    rungs = _rungs(spot, tuple(order))
    for item in spot.items():
        if item.value in ONE_SIDED:
            item.refuse(
                f"{item.value!r} is the rail of one side; a person with two prostheses has both_rails, one_rail"
            )
    return rungs


_STAGE_REQUIRED, _STAGE_OPTIONAL = ("support", "in_a_row"), ("days", "help")


def _proven(spot: Spot, rungs: tuple[str, ...], words: Vocabulary) -> Proven:
    beside = ("barred", "measures")
    if isinstance(spot.value, dict) and "stages" in spot.value:
        parts = spot.fields(("stages",), beside)
        stages = tuple(
            _stage(item.fields(_STAGE_REQUIRED, _STAGE_OPTIONAL), rungs, words) for item in parts["stages"].items()
        )
        if not stages:
            parts["stages"].refuse("must not be empty")
    else:
        parts = spot.fields(_STAGE_REQUIRED, (*_STAGE_OPTIONAL, *beside))
        stages = (_stage(parts, rungs, words),)
    return Proven(
        stages,
        parts["barred"].words(words.deviations, "deviation") if "barred" in parts else (),
        parts["measures"].ranges(words.measures) if "measures" in parts else {},
    )


def _stage(parts: dict[str, Spot], rungs: tuple[str, ...], words: Vocabulary) -> Stage:
    return Stage(
        support=parts["support"].choice(rungs, "rung of this skill"),
        in_a_row=parts["in_a_row"].integer(1),
        days=parts["days"].integer(1) if "days" in parts else 1,
        help=parts["help"].choice(words.help, "help") if "help" in parts else None,
    )
