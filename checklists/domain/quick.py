"""Short ways through a rule for one letter: the two hard nodes that daily rules are made of, with all else tabulated.

A rule such as 'a start check within four hours' has one hard node between two phases without memory. For a given letter
everything but that node is then fixed, and the node's operands too.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from .formula import Count, Since
from .nodes import holds_count

if TYPE_CHECKING:
    from .program import Program

Quick = Callable[[list[Any], int, str | None], int]  # memory, microseconds, skill → verdict; the memory moves on
_MOST_COUNTED = 1_000


def quick_way(program: "Program", letter: int) -> Quick | None:
    """The short way for a letter, where there is one; it does exactly what Program.run does with `keep`."""
    if program.statuses or len(program.phases) != 2 or len(program.hard[0]) != 1:
        return None
    before, after = program.phases
    if before.bits or after.bits:
        return None
    number, slot, args = program.hard[0][0]
    out = before.step(0, letter)[1]
    arg = tuple(out >> one & 1 for one in args)
    false, true = (after.step(0, out | value << len(before.exports))[1] for value in (0, 1))
    formula = program.nodes[number].formula
    if isinstance(formula, Since) and formula.within is not None:
        return _since_held(slot, formula.within, false, true) if arg == (1, 0) else _since_moves(slot, arg, false, true)
    if not isinstance(formula, Count) or formula.cap > _MOST_COUNTED:  # a verdict is tabulated for each number
        return None
    if formula.same_skill and formula.within is None and arg in ((1,), (1, 0)):
        return _counted(slot, formula, false, true)
    return None


def _since_held(slot: int, within: int, false: int, true: int) -> Quick:
    def run(memory: list[Any], at: int, skill: str | None) -> int:
        began = memory[slot]
        return true if began is not None and at - began <= within else false

    return run


def _since_moves(slot: int, arg: tuple[int, ...], false: int, true: int) -> Quick:
    held, began = arg

    def run(memory: list[Any], at: int, skill: str | None) -> int:
        if not held:
            memory[slot] = None
        if began and (memory[slot] is None or memory[slot] < at):
            memory[slot] = at
        return true if began else false

    return run


def _counted(slot: int, formula: Count, false: int, true: int) -> Quick:
    cap = formula.cap
    verdicts = [true if holds_count(formula, number) else false for number in range(cap + 1)]

    def run(memory: list[Any], at: int, skill: str | None) -> int:
        if skill is None:
            return verdicts[0]
        by_skill = memory[slot]
        number: int = by_skill.get(skill, 0)
        if number < cap:
            by_skill[skill] = number + 1
        return verdicts[number]

    return run
