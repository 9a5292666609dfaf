"""A rule as a program: phases of tabulated bits with the hard nodes between them (SEMANTICS.md §3)."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from . import hard
from .atom import Atom
from .formula import AllOf, Count, Not, Status
from .nodes import Effect, Nodes, effect
from .phase import Phase
from .rule import Rule

if TYPE_CHECKING:
    from .entry import Entry

StatusOf = Callable[[str, int], str]  # the status of a skill just before the entry, at its instant
BROKEN, EXPECTED = 1, 2  # bits of a verdict; of a deadline the first says that `when` is true


class Program:
    """One rule, compiled. `pure`: one phase is enough, so that the rule is an automaton and nothing else."""

    def __init__(self, rule: Rule) -> None:
        self.rule = rule
        nodes = Nodes()
        if rule.expect is not None:
            outputs: tuple[int, ...] = (nodes.add(rule.when), nodes.add(rule.expect))
        elif rule.require is not None:
            outputs = (nodes.add(AllOf((rule.when, Not(rule.require)))),)
        else:
            raise ValueError("a rule requires or expects something")
        self.nodes = nodes.all
        self.outputs = outputs
        self.atoms = [number for number, node in enumerate(self.nodes) if isinstance(node.formula, Atom)]
        self.statuses = [number for number, node in enumerate(self.nodes) if isinstance(node.formula, Status)]
        self._asks = [node.formula for node in self.nodes if isinstance(node.formula, Status)]
        self._effects: dict[tuple[bool | None, ...], Effect] = {}
        self.asks_skill = any(
            (isinstance(node.formula, Status) and node.formula.skill is None)
            or (isinstance(node.formula, Count) and node.formula.same_skill)
            for node in self.nodes
        )
        self._build()

    def _build(self) -> None:
        top = max(self.nodes[number].level for number in self.outputs)
        self.phases: list[Phase] = []
        self.hard: list[list[tuple[int, int, tuple[int, ...]]]] = []  # after each phase: node, slot, bits of operands
        inputs, slot = self.atoms + self.statuses, top + 1
        for level in range(top + 1):
            own = [
                number
                for number, node in enumerate(self.nodes)
                if node.level == level and not node.hard and not isinstance(node.formula, Atom | Status)
            ]
            exports = list(self.outputs) if level == top else self._needed_after(level)
            self.phases.append(Phase(self.nodes, inputs, own, exports))
            between = [number for number, node in enumerate(self.nodes) if node.hard and node.level == level + 1]
            self.hard.append(
                [
                    (number, slot + place, tuple(exports.index(arg) for arg in self.nodes[number].args))
                    for place, number in enumerate(between)
                    if level < top
                ]
            )
            inputs, slot = exports + between, slot + len(between)
        self.pure = top == 0 and not self.statuses

    def _needed_after(self, level: int) -> list[int]:
        needed = {number for number in self.outputs if self.nodes[number].level <= level}
        for node in self.nodes:
            if node.level > level:
                needed.update(number for number in node.args if self.nodes[number].level <= level)
        return sorted(needed)

    def first_memory(self) -> Any:
        """The memory before the first entry: the states of the phases, then those of the hard nodes."""
        return [0] * len(self.phases) + [hard.first_memory(self.nodes[one[0]]) for level in self.hard for one in level]

    def effect(self, atoms: tuple[bool | None, ...]) -> Effect:
        """What an entry with these atoms (None: differs from entry to entry) could do to the rule."""
        known = self._effects.get(atoms)
        if known is None:
            known = effect(self.nodes, dict(zip(self.atoms, atoms, strict=True)), self.outputs)
            self._effects[atoms] = known
        return known

    def run(self, memory: list[Any], letter: int, entry: "Entry", status_of: StatusOf, *, keep: bool) -> int:
        """The verdict at an entry; `letter` holds the atoms' values.

        The memory moves on past the entry where `keep`.
        """
        at, skill = entry.at_us, entry.shape.skill
        for bit, wanted in enumerate(self._asks, len(self.atoms)):
            of = wanted.skill or skill
            if of is not None and status_of(of, at) in wanted.among:
                letter |= 1 << bit
        for level, phase in enumerate(self.phases):
            state, letter = phase.step(memory[level], letter)
            if keep:
                memory[level] = state
            out = letter
            for bit, (number, slot, args) in enumerate(self.hard[level], len(phase.exports)):
                node, arg = self.nodes[number], tuple(out >> one & 1 for one in args)
                if hard.value(node, memory[slot], arg, at, skill):
                    letter |= 1 << bit
                if keep:
                    memory[slot] = hard.moved(node, memory[slot], arg, at, skill)
        return letter

    def expiries(self, memory: Any) -> Iterator[int]:
        """The instants at which something remembered passes out of its bound in time."""
        for level in self.hard:
            for number, slot, _ in level:
                within = self.nodes[number].formula.within  # type: ignore[union-attr]  # hard nodes are temporal
                if within is not None:
                    for at in hard.remembered(memory[slot]):
                        yield at + within + 1
