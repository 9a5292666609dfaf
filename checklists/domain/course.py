"""The course of an episode: one entry after another past the deadlines, the document's rules and the fold."""

from typing import Any, NamedTuple

from .builtin import FALL_UNREVIEWED, foresee_attempt, judge_sign_off
from .counted import Counted, counted
from .deadline import Deadlines, Pending
from .entry import Entry
from .facts import AttemptFacts
from .fold import SIGNED, Fold
from .monitor import LEFT, ONLY, RIGHT, foresee, watch
from .program import BROKEN, EXPECTED
from .protocol import Protocol
from .record import place
from .shape import Shape

Raw = tuple[bool, int, int, int, str, int, str]  # place of the entry in the record, rule number, `at`
NOBODY = "00000000-0000-0000-0000-000000000000"  # the id of an entry that is only planned


class Alert(NamedTuple):
    """One break of a rule at an entry. `at` is the entry's, as written."""

    rule: str
    entry: str
    at: str
    severity: str


class Course:
    """The state after the last entry, and the step past the next one, whose cost does not depend on those before it."""

    __slots__ = ("_both", "_compiled", "_deadlines", "_memories", "_views", "fold", "met", "protocol")

    def __init__(self, protocol: Protocol) -> None:
        self.protocol = protocol
        self._compiled = protocol.compiled
        self.met: list[tuple[str, str]] = []  # deadlines (rule, entry) that the last append has met
        self._begin(both=0)

    def _begin(self, both: int) -> None:
        self._both = both
        self._views = (LEFT, RIGHT) if both else (ONLY,)
        self.fold = Fold(self._compiled.plans[both])
        self._memories = [self._compiled.watch.first_memory() for _ in self._views]
        self._deadlines = [Deadlines() for _ in self._views]

    def _step(self, entry: Entry, raw: list[Raw]) -> None:
        """Move past an entry: first what is certainly late, then the document's rules, then the fold with its rules."""
        at, shape, both, compiled = entry.at_us, entry.shape, self._both, self._compiled
        facts = shape.facts[both] or compiled.facts(shape, both)
        broken: tuple[int, ...] | set[int] = ()
        if not both:
            if at > self._deadlines[0].next_due and entry.rank:
                self._overdue(at, raw)
            view = shape.views[ONLY] or compiled.view(shape, ONLY)
            verdicts = watch(compiled.watch, self._memories[0], view, entry, self.fold.status_named)
            if verdicts:
                broken = self._broken(verdicts, 0, entry)
        else:
            broken = self._two_knees(entry, raw)
        if broken:
            raw += [(*place(entry), number, entry.at) for number in sorted(broken)]
        if facts.act is not None:
            found = facts.act(self.fold, entry, facts)
            if found:
                raw += [(*place(entry), compiled.first_builtin + number, entry.at) for number in found]
            if entry.kind in ("fall", "review"):
                self._await_review(entry)
        if facts.mode is not None:
            self._note_mode(entry, facts.mode)

    def _two_knees(self, entry: Entry, raw: list[Raw]) -> set[int]:
        """The rules of the document that the entry breaks in the sequence of either knee."""
        if entry.rank and any(entry.at_us > one.next_due for one in self._deadlines):
            self._overdue(entry.at_us, raw)
        broken: set[int] = set()
        for side, knee in enumerate(self._views):
            view = self._compiled.view(entry.shape, knee)
            if view:
                verdicts = watch(self._compiled.watch, self._memories[side], view, entry, self.fold.status_named)
                broken.update(self._broken(verdicts, side, entry))
        return broken

    def _broken(self, verdicts: list[tuple[int, int]], side: int, entry: Entry) -> tuple[int, ...]:
        """The rules that are broken at once; the verdicts of deadlines go into the book of deadlines."""
        broken = []
        for number, verdict in sorted(verdicts):
            if number not in self._compiled.deadlines:
                broken.append(number)
                continue
            if verdict & EXPECTED:
                self._has_met(self._deadlines[side].met(number))
            if verdict & BROKEN:
                within = self._compiled.programs[number].rule.within
                self._deadlines[side].await_(number, entry, entry.at, within)
        return tuple(broken)

    def _await_review(self, entry: Entry) -> None:
        number, book = self._compiled.first_builtin + FALL_UNREVIEWED, self._deadlines[0]
        if entry.kind == "fall":
            book.await_(number, entry, entry.at, self.fold.plan.fall_review)
        else:
            self._has_met(book.met_for(number, entry.get("of")))

    def _has_met(self, met: list[Pending]) -> None:
        if met:
            rule = met[0][1]
            awaited = {one[5] for book in self._deadlines for one in book.open.get(str(rule), ())}  # for the other knee
            self.met += [(self._compiled.rule_keys[rule], one[5]) for one in met if one[5] not in awaited]

    def _overdue(self, at: int, raw: list[Raw]) -> None:
        late = {tuple(one[1:]) for book in self._deadlines for one in book.overdue(at)}
        raw += [raw_pending(one) for one in late]

    def _pending_at(self, at: int) -> list[Raw]:
        late = {
            tuple(one[1:]) for book in self._deadlines for rule in book.open.values() for one in rule if one[0] < at
        }
        return [raw_pending(one) for one in late]

    def _note_mode(self, entry: Entry, event: Any) -> None:
        for side in (0, 1):
            if event.knees >> side & 1:
                self.fold.modes[side] = [event.mode, event.proof, entry.at, entry.by]

    def _alerts(self, raw: list[Raw]) -> list[Alert]:
        keys, severities = self._compiled.rule_keys, self._compiled.severities
        return [Alert(keys[one[5]], one[4], one[6], severities[one[5]]) for one in sorted(raw)]

    # -- what if ------------------------------------------------------------------------------------------------------

    def planned(self, skill: str, support: str, help_: str, at: tuple[int, int, str]) -> Entry:
        """A safe attempt at an instant, as nobody has recorded it yet."""
        shape: Shape = self._compiled.planned(skill, support, help_)
        return Entry(at[0], 0, shape.rank, NOBODY, shape, at[1], at[2], "", "", None)

    def foresee(self, entry: Entry) -> set[int]:
        """The numbers of the document's rules that an entry would break at once."""
        found: set[int] = set()
        for memory, knee in zip(self._memories, self._views, strict=True):
            view = self._compiled.view(entry.shape, knee)
            if view:
                verdicts = foresee(self._compiled.watch, memory, view, entry, self.fold.status_named)
                found.update(number for number, _ in verdicts)
        return found - self._compiled.deadlines if found else found

    def seen_as(self, entry: Entry) -> tuple[object, ...]:
        """Entries of which this is equal break the same rules of the document, if they came next."""
        views = [self._compiled.view(entry.shape, knee) for knee in self._views]
        return (*views, entry.shape.skill if any(view and view.asks_skill for view in views) else None)

    def foresee_builtin(self, entry: Entry) -> tuple[int, ...]:
        """The numbers of the built-in rules that an entry would break at once."""
        facts = self._compiled.facts(entry.shape, self._both)
        if isinstance(facts, AttemptFacts):
            return foresee_attempt(self.fold, facts, entry.at_us, entry.day)
        return judge_sign_off(self.fold, entry, facts) if entry.kind == "sign_off" else ()

    def counted(self, entry: Entry) -> Counted | None:
        """How a planned attempt would stand to the evidence of its skill; None for any other entry as well."""
        facts = self._compiled.facts(entry.shape, self._both)
        return counted(self, entry, facts) if isinstance(facts, AttemptFacts) else None

    def _lapses(self) -> list[int]:
        """When the sign-offs that stand lapse."""
        states = zip(self.fold.plan.skills, self.fold.skills, strict=True)
        return [state[SIGNED][0] + skill.valid for skill, state in states if state[SIGNED] and skill.valid is not None]

    def _expiries(self) -> list[int]:
        """When what the rules remember within a bound of time passes out of it."""
        return [at for memory in self._memories for at in self._compiled.watch.expiries(memory)]

    def resets_at(self, entry: Entry) -> bool:
        """Whether a planned attempt would be at a gap that puts its own skill back to the first rung."""
        facts = self._compiled.facts(entry.shape, self._both)
        if not isinstance(facts, AttemptFacts) or facts.seated or not self.fold.is_gap(entry.day):
            return False
        return not self.fold.signed_at(entry.at_us) & facts.bit


def raw_pending(one: tuple[Any, ...]) -> Raw:
    """A missed deadline as a break of its rule at its entry."""
    number, at_us, seq, rank, id_, at = one
    return (rank != 0, at_us, seq, rank, id_, number, at)
