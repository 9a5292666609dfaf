"""One phase of a rule: an automaton whose state is a few bits, tabulated as its states and letters are met."""

from .formula import AllOf, AnyOf, Count, Not, Once, Previous, Since
from .nodes import Node, holds_count

Cell = tuple[int, int]  # next state, values of the exported nodes
_MOST_CELLS = 200_000  # a table this large is dropped and grows anew: memory stays bounded, verdicts do not change


class Phase:
    """Works out the nodes of one level from the values of its inputs.

    A letter holds the value of each input, a result that of each export, lowest bit first. The state holds the memory
    of the temporal nodes side by side; zero is the state before the first entry.
    """

    def __init__(self, nodes: list[Node], inputs: list[int], own: list[int], exports: list[int]) -> None:
        self.inputs = inputs
        self.exports = exports
        self._nodes = nodes
        self._own = own
        self._rows: dict[int, dict[int, Cell]] = {}
        self._cells = 0
        self._slots: dict[int, tuple[int, int]] = {}
        offset = 0
        for number in own:
            width = nodes[number].width
            if width:
                self._slots[number] = (offset, (1 << width) - 1)
                offset += width
        self.bits = offset

    def row(self, letter: int) -> dict[int, Cell]:
        """What is known so far of this letter: state → cell. The same dict for as long as the program runs."""
        row = self._rows.get(letter)
        if row is None:
            row = self._rows[letter] = {}
        return row

    def step(self, state: int, letter: int) -> Cell:
        """The next state and the exported values, from the table where they are known."""
        row = self.row(letter)
        cell = row.get(state)
        return self.fill(row, state, letter) if cell is None else cell

    def fill(self, row: dict[int, Cell], state: int, letter: int) -> Cell:
        """Work a cell out and keep it."""
        if self._cells >= _MOST_CELLS:
            for known in self._rows.values():
                known.clear()
            self._cells = 0
        cell = row[state] = self._work_out(state, letter)
        self._cells += 1
        return cell

    def _work_out(self, state: int, letter: int) -> Cell:
        value = {number: bool(letter >> bit & 1) for bit, number in enumerate(self.inputs)}
        next_state = 0
        for number in self._own:
            node = self._nodes[number]
            offset, mask = self._slots.get(number, (0, 0))
            value[number], memory = _node(node, [value[one] for one in node.args], state >> offset & mask)
            next_state |= memory << offset
        return next_state, sum(1 << bit for bit, number in enumerate(self.exports) if value[number])


def _node(node: Node, arg: list[bool], memory: int) -> tuple[bool, int]:
    """The value of a node and its new memory (SEMANTICS.md §3)."""
    formula = node.formula
    if isinstance(formula, Not):
        return not arg[0], 0
    if isinstance(formula, AllOf):
        return all(arg), 0
    if isinstance(formula, AnyOf):
        return any(arg), 0
    if isinstance(formula, Previous):
        return bool(memory), int(arg[0])
    if isinstance(formula, Once):
        held = arg[0] or bool(memory)
        return held, int(held)
    if isinstance(formula, Since):
        held = arg[1] or (arg[0] and bool(memory))
        return held, int(held)
    if isinstance(formula, Count):  # strictly before: the value comes from the memory, then the entry is counted
        begins_anew = formula.after is not None and arg[1]
        return holds_count(formula, memory), 0 if begins_anew else min(memory + arg[0], formula.cap)
    raise TypeError(f"{formula!r} has no place in a phase")
