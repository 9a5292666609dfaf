"""The fold: what an episode's entries, taken in order, make of every skill (SEMANTICS.md §5).

The state is plain JSON (lists and dicts, worked on directly), so that a snapshot is cheap to write and to take up
again. Masks of skills are derived from it and are not part of a snapshot.
"""

from typing import Any

from .plan import Plan

# The state of one skill is a list; these are its places.
ALLOWED = 0  # number of the rung that is allowed
STAGE, RUN, DAYS, MET = 1, 2, 3, 4  # the evidence: stage, attempts in a row, dates that count, whether it is met
SIGNED = 5  # [microseconds, at, by] of the standing sign-off, or None
SUSPENDED = 6  # a fall-back event came after the standing sign-off
RECENT = 7  # the last three attempts that were not stopped, as bits: 1 is unsafe
TRIED = 8  # there is an attempt
RUNGS = 9  # rung → [at, by] of the last safe attempt on it
FELL = 10  # [at, why] of the last fall-back event, or None
NEVER = 2**63 - 1
UNCOUNTED = ("not_applicable", "signed_off")  # the statuses in which nothing is counted

# A fall in `falls`: [skill or -1, at, what the reviews say]
UNSEEN, NOT_CLEARED, CLEARED = range(3)


class Fold:
    """The fold of one episode up to and including its last entry."""

    __slots__ = (
        "applicable", "contested_falls", "fall_counts", "falls", "features", "last_try", "modes", "next_lapse",
        "open_falls",
        "opening", "plan", "signed", "skills", "uncounted",
    )  # fmt: skip  # a list of words

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.skills: list[list[Any]] = [[0, 0, 0, [], 0, None, 0, 0, 0, {}, None] for _ in plan.keys]
        self.features = [0, 0]
        self.falls: dict[str, list[Any]] = {}
        self.last_try: int | None = None
        self.opening: list[Any] | None = None
        self.modes: list[list[str | None]] = [[None, None, None, None], [None, None, None, None]]
        self.uncounted: list[Any] = [None, []]  # a date, and its safe attempts that left the evidence as it was
        self.derive()

    def dump(self) -> list[Any]:
        """The state as plain JSON."""
        return [self.skills, self.features, self.falls, self.last_try, self.opening, self.modes, self.uncounted]

    @classmethod
    def of(cls, plan: Plan, state: list[Any]) -> "Fold":
        """Go on from a state that `dump` gave."""
        self = cls.__new__(cls)
        self.plan = plan
        self.skills, self.features, self.falls, self.last_try, self.opening, self.modes, self.uncounted = state
        self.derive()
        return self

    def derive(self) -> None:
        """Work the masks out from the state."""
        self.applicable = self.plan.applicable(self.features[0] & self.features[1])
        self.derive_signed()
        self.derive_falls()

    def derive_signed(self) -> None:
        """`signed`: a sign-off stands, is not suspended and, as far as the fold has come, has not lapsed."""
        self.signed, self.next_lapse = 0, NEVER
        for skill, state in zip(self.plan.skills, self.skills, strict=True):
            if state[SIGNED] is not None and not state[SUSPENDED]:
                self.signed |= skill.bit
                if skill.valid is not None:
                    self.next_lapse = min(self.next_lapse, state[SIGNED][0] + skill.valid)

    def derive_falls(self) -> None:
        """`open_falls`: skills with an open fall; `contested_falls`: with one that a review named and did not clear."""
        self.open_falls = self.contested_falls = 0
        self.fall_counts: dict[tuple[int, int], int] = {}
        for skill, _, seen in self.falls.values():
            self.count_fall(skill, seen, 1)

    def count_fall(self, skill: int, seen: int, by: int) -> None:
        """One fall of a skill (-1: of none) more or less in this state; the masks follow."""
        if seen == CLEARED:
            return
        number = self.fall_counts[skill, seen] = self.fall_counts.get((skill, seen), 0) + by
        bit = self.plan.no_skill if skill < 0 else 1 << skill
        other = self.fall_counts.get((skill, UNSEEN + NOT_CLEARED - seen), 0)
        self.open_falls = self.open_falls | bit if number or other else self.open_falls & ~bit
        if seen == NOT_CLEARED:
            self.contested_falls = self.contested_falls | bit if number else self.contested_falls & ~bit

    def leave_uncounted(self, entry: str, day: int) -> None:
        """Remember a safe attempt that did not count; of an earlier date than the last one nothing is remembered."""
        if self.uncounted[0] != day:
            self.uncounted = [day, []]
        self.uncounted[1].append(entry)

    def lapse(self, at: int) -> None:
        """Drop from `signed` what has lapsed at an instant; the fold only goes forward."""
        self.next_lapse = NEVER
        for skill in self.plan.members(self.signed):
            if skill.valid is not None:
                until = self.skills[skill.number][SIGNED][0] + skill.valid
                if at >= until:
                    self.signed &= ~skill.bit
                else:
                    self.next_lapse = min(self.next_lapse, until)

    def signed_at(self, at: int) -> int:
        """The mask of the skills that are `signed_off` at an instant, without moving the fold."""
        mask = self.signed & self.applicable
        if at >= self.next_lapse:
            for skill in self.plan.members(mask):
                if skill.valid is not None and at >= self.skills[skill.number][SIGNED][0] + skill.valid:
                    mask &= ~skill.bit
        return mask

    def status(self, number: int, at: int, signed: int | None = None) -> str:
        """The status of a skill at an instant: the first that fits (SEMANTICS.md §5).

        `signed` is `signed_at(at)`, if known.
        """
        skill, state = self.plan.skills[number], self.skills[number]
        if not self.applicable & skill.bit:
            return "not_applicable"
        if state[SIGNED] is not None:
            if state[SUSPENDED]:
                return "suspended"
            if skill.valid is not None and at >= state[SIGNED][0] + skill.valid:
                return "lapsed"
            return "signed_off"
        if signed is None:
            signed = self.signed_at(at)
        if skill.depends & self.applicable & ~signed or self.open_falls & skill.counts:
            return "blocked"
        if state[MET]:
            return "ready"
        return "training" if state[TRIED] else "open"

    def status_named(self, key: str, at: int) -> str:
        """The status of a skill by its key."""
        return self.status(self.plan.number[key], at)

    def missing(self, depends: int, at: int) -> int:
        """The mask of the prerequisites, among what a skill depends on, that are not `signed_off`."""
        return depends & self.applicable & ~self.signed_at(at)

    def fall_back(self, mask: int, at: str, why: str) -> None:
        """A fall-back event of these skills: what was proven must be proven again, from the first rung."""
        for skill in self.plan.members(mask):
            state = self.skills[skill.number]
            state[ALLOWED] = 0
            begin_evidence(state)
            state[SUSPENDED] = int(state[SIGNED] is not None)
            state[FELL] = [at, why]
        self.signed &= ~mask

    def is_gap(self, day: int) -> bool:
        """Whether an attempt on this day, of a skill that is not tagged `seated`, would be at a gap."""
        return self.last_try is not None and day - self.last_try > self.plan.gap_days


def begin_evidence(state: list[Any]) -> None:
    """The evidence begins anew in the first stage."""
    state[STAGE] = state[RUN] = state[MET] = 0
    state[DAYS] = []
