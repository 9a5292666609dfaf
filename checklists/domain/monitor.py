"""Watching the document's rules over a sequence of entries: of the only, left or right knee (SEMANTICS.md §3)."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from .atom import Atom
from .kinds import FIELDS, WITH_SKILL, defaults
from .phase import Phase
from .program import Program, StatusOf
from .quick import Quick, quick_way
from .shape import Shape

if TYPE_CHECKING:
    from .entry import Entry

ONLY, LEFT, RIGHT = range(3)
_OTHER_KNEE = {LEFT: "right", RIGHT: "left"}
Verdicts = list[tuple[int, int]]  # rule number, bits of the verdict (never zero)
Other = tuple[int, int, Program, int, list[tuple[int, Atom]]]  # place in the memories, rule, program, letter, atoms
_JOINTS_KEPT = 20_000  # known joint states; beyond, they are worked out anew and nothing changes but the speed


class Joint:
    """The states of all rules that are automata and nothing else, together.

    Equal ones are nearly always the same object.
    """

    __slots__ = ("states",)

    def __init__(self, states: tuple[int, ...]) -> None:
        self.states = states


class View:
    """An entry's shape as one sequence sees it. Rules that it cannot touch are left out.

    `tabled`: place in the joint state, rule, phase and letter of each rule that is an automaton and nothing else;
    `table`: what they come to, as far as it is known. `quick` and `slow`: how the memories of the other rules move on,
    with short ways and with whole programs. `others`: those of them that the entry may break; `asks_skill`: its skill
    matters to one.
    """

    __slots__ = ("asks_skill", "kind", "others", "quick", "slow", "table", "tabled")

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self.asks_skill = False
        self.tabled: list[tuple[int, int, Phase, int]] = []
        self.table: dict[Joint, tuple[Joint, Verdicts]] = {}
        self.quick: list[tuple[int, int, Quick]] = []
        self.slow: list[Other] = []
        self.others: list[Other] = []


class Watch:
    """The rules of a document, compiled, and how they see each shape."""

    def __init__(self, programs: list[Program], per_knee: Mapping[str, bool]) -> None:
        self.programs = programs
        self._per_knee = per_knee
        self._atoms: list[Atom] = []
        self._parts: list[Atom] = []  # of each atom what a shape decides
        numbers: dict[str, int] = {}
        for program in programs:
            for number in program.atoms:
                atom = program.nodes[number].formula
                if isinstance(atom, Atom) and numbers.setdefault(repr(atom), len(self._atoms)) == len(self._atoms):
                    self._atoms.append(atom)
                    self._parts.append(atom if atom.closed else atom.closed_part)
        self._asked = [[numbers[repr(program.nodes[one].formula)] for one in program.atoms] for program in programs]
        self._place = {number: place for place, number in enumerate(self._automata())}
        self._others = [number for number in range(len(programs)) if number not in self._place]
        self._joints: dict[tuple[int, ...], Joint] = {}
        self._views: dict[tuple[str, tuple[bool | None, ...]], View] = {}
        self._possible = {kind: [n for n, atom in enumerate(self._atoms) if _possible(atom, kind)] for kind in FIELDS}

    def _automata(self) -> list[int]:
        return [
            number
            for number, program in enumerate(self.programs)
            if program.pure and all(self._atoms[one].closed for one in self._asked[number])
        ]

    def first_memory(self) -> list[Any]:
        """The memories before the first entry: those of the rules with more than an automaton, last the joint state."""
        others = [self.programs[number].first_memory() for number in self._others]
        return [*others, self.joint((0,) * len(self._place))]

    def dump(self, memory: list[Any]) -> list[Any]:
        """The memories as JSON that every reader takes up exactly: a state of more than 62 bits becomes a text."""
        return [[str(one) if one >> 62 else one for one in memory[-1].states], *map(_packed, memory[:-1])]

    def take_up(self, dumped: list[Any]) -> list[Any]:
        """Go on from what `dump` gave."""
        states, *others = dumped
        memory: list[Any] = [
            [int(one) if isinstance(one, str) else one for one in other] if _has_texts(other) else other
            for other in others
        ]
        memory.append(self.joint(tuple(map(int, states))))
        return memory

    def expiries(self, memory: list[Any]) -> Iterator[int]:
        """The instants at which something remembered passes out of its bound in time."""
        for place, number in enumerate(self._others):
            yield from self.programs[number].expiries(memory[place])

    def joint(self, states: tuple[int, ...]) -> Joint:
        """The object for these states."""
        found = self._joints.get(states)
        if found is None:
            if len(self._joints) >= _JOINTS_KEPT:
                self._joints.clear()
            found = self._joints[states] = Joint(states)
        return found

    def fill(self, view: View, joint: Joint) -> tuple[Joint, Verdicts]:
        """Work out, and keep, what an entry does to the rules that are automata."""
        states, found = list(joint.states), []
        for place, number, phase, letter in view.tabled:
            states[place], verdict = phase.step(states[place], letter)
            if verdict:
                found.append((number, verdict))
        if len(view.table) >= _JOINTS_KEPT:
            view.table.clear()
        cell = view.table[joint] = (self.joint(tuple(states)), found)
        return cell

    def view(self, shape: Shape, knee: int) -> View | None:
        """The shape in a sequence; None where it does not stand in it."""
        fields = self._read(shape.fields, knee)
        if fields is None:
            return None
        kind = fields["kind"]
        values = tuple([self._value(one, fields, shape) for one in self._possible[kind]])
        view = self._views.get((kind, values))
        if view is None:  # shapes that no rule can tell apart share a view
            view = View(kind)
            known = dict(zip(self._possible[kind], values, strict=True))
            for number, (program, asked) in enumerate(zip(self.programs, self._asked, strict=True)):
                self._see(view, number, program, tuple([known.get(one, False) for one in asked]))
            if len(self._views) >= _JOINTS_KEPT:
                self._views.clear()
            self._views[kind, values] = view  # whole by now: other threads may be reading
        return view

    def _value(self, number: int, fields: dict[str, Any], shape: Shape) -> bool | None:
        """The value of an atom for all entries of a shape; None where it differs from entry to entry."""
        if not self._parts[number].holds(fields, shape.tags):
            return False
        return True if self._atoms[number] is self._parts[number] else None

    def _see(self, view: View, number: int, program: Program, atoms: tuple[bool | None, ...]) -> None:
        moves, breaks = program.effect(atoms)
        if not moves and not breaks:
            return
        letter = sum(1 << bit for bit, value in enumerate(atoms) if value)
        differing = [(bit, self._atoms[self._asked[number][bit]]) for bit, value in enumerate(atoms) if value is None]
        if number in self._place:
            view.tabled.append((self._place[number], number, program.phases[0], letter))
            return
        other: Other = (self._others.index(number), number, program, letter, differing)
        if breaks:
            view.others.append(other)
            view.asks_skill = view.asks_skill or program.asks_skill
        quick = quick_way(program, letter) if not differing else None
        if quick is not None:
            view.quick.append((self._others.index(number), number, quick))
        else:
            view.slow.append(other)

    def _read(self, fields: dict[str, Any], knee: int) -> dict[str, Any] | None:
        """The fields of an entry as a sequence reads them (SEMANTICS.md §3, 'Two knees')."""
        whole = {**defaults(fields["kind"]), **fields}
        if knee == ONLY:
            return whole
        if fields.get("knee") is not None:
            return None if fields["knee"] == _OTHER_KNEE[knee] else whole
        if fields["kind"] == "mode_checked" and fields["ok"]:
            return {name: value for name, value in whole.items() if name != "ok"} | {"kind": "mode_set"}
        if fields["kind"] == "check" and self._per_knee[fields["name"]] and False not in fields["steps"].values():
            return None
        return whole


def _packed(memory: list[Any]) -> list[Any]:
    return [str(one) if isinstance(one, int) and one >> 62 else one for one in memory]


def _has_texts(memory: list[Any]) -> bool:
    return any(isinstance(one, str) for one in memory)


def _possible(atom: Atom, kind: str) -> bool:
    """Whether an entry of a kind can have an atom at all."""
    for name, wanted in atom.values:
        if (name == "kind" and kind not in wanted) or (name == "tags" and kind not in WITH_SKILL):
            return False
        if name != "tags" and name not in FIELDS[kind]:
            return False
    return not (atom.asks_steps and kind != "check") and not (atom.asks_measures and kind != "attempt")


def watch(rules: Watch, memory: list[Any], view: View, entry: "Entry", status_of: StatusOf) -> Verdicts:
    """Move the memories of a sequence past an entry; the verdicts that are not empty."""
    joint = memory[-1]
    cell = view.table.get(joint)
    memory[-1], found = rules.fill(view, joint) if cell is None else cell
    for place, number, quick in view.quick:
        verdict = quick(memory[place], entry[0], entry[4].skill)
        if verdict:
            found = [*found, (number, verdict)]
    if view.slow:
        found = [*found, *_others(view.slow, memory, view.kind, entry, status_of, keep=True)]
    return found


def foresee(rules: Watch, memory: list[Any], view: View, entry: "Entry", status_of: StatusOf) -> Verdicts:
    """The verdicts that `watch` would give, with the memories left as they are."""
    joint = memory[-1]
    _, found = view.table.get(joint) or rules.fill(view, joint)
    if view.others:
        found = [*found, *_others(view.others, memory, view.kind, entry, status_of, keep=False)]
    return found


def _others(
    others: list[Other], memory: list[Any], kind: str, entry: "Entry", status_of: StatusOf, *, keep: bool
) -> Verdicts:
    found: Verdicts = []
    for place, number, program, letter, differing in others:
        if differing:
            letter |= _differing(differing, kind, entry)
        verdict = program.run(memory[place], letter, entry, status_of, keep=keep)
        if verdict:
            found.append((number, verdict))
    return found


def _differing(differing: list[tuple[int, Atom]], kind: str, entry: "Entry") -> int:
    """The bits of the atoms that ask for more than the shape of the entry."""
    whole = entry.content()
    if whole["kind"] != kind:  # a check of the mode that is read as a setting of it
        whole["kind"] = kind
        del whole["ok"]
    return sum(1 << bit for bit, atom in differing if atom.holds(whole, entry.shape.tags))
