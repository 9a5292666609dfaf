"""Hard nodes: temporal operators with a bound in time, and counts by skill (SEMANTICS.md §3).

Their memory is plain JSON, kept in the state of the sequence: for `once` and `since` the latest instant that can still
help, for `count` the latest instants, no more than the count can ever ask for. 'Latest' is by instant, not by order: the
opening stands first whatever its instant.
"""

from bisect import bisect_left, insort
from typing import Any

from .formula import Count, Once, Since
from .nodes import Node, holds_count

Memory = Any


def first_memory(node: Node) -> Memory:
    """The memory before the first entry."""
    formula = node.formula
    if not isinstance(formula, Count):
        return None
    if formula.same_skill:
        return {}
    return [] if formula.within is not None else 0


def step(node: Node, memory: list[Memory], slot: int, arg: tuple[int, ...], at: int, skill: str | None) -> bool:
    """The value at an entry with these values of the operands; the memory in its slot moves on past the entry."""
    formula = node.formula
    if isinstance(formula, Once):
        if arg[0] and (memory[slot] is None or memory[slot] < at):
            memory[slot] = at
        return memory[slot] is not None and at - memory[slot] <= _bound(formula)
    if isinstance(formula, Since):
        if not arg[0]:
            memory[slot] = None
        if arg[1] and (memory[slot] is None or memory[slot] < at):
            memory[slot] = at
        return memory[slot] is not None and at - memory[slot] <= _bound(formula)
    assert isinstance(formula, Count)
    return _count(formula, memory, slot, arg, at, skill)


def _bound(formula: Once | Since | Count) -> int:
    assert formula.within is not None
    return formula.within


def _count(formula: Count, memory: list[Memory], slot: int, arg: tuple[int, ...], at: int, skill: str | None) -> bool:
    if not formula.same_skill:
        value = holds_count(formula, _number(formula, memory[slot], at))
        if formula.after is not None and arg[1]:
            memory[slot] = [] if formula.within is not None else 0
        elif arg[0]:
            memory[slot] = _counted(formula, memory[slot], at)
        return value
    by_skill = memory[slot]
    value = holds_count(formula, _number(formula, by_skill.get(skill), at) if skill else 0)
    if formula.after is not None and arg[1]:
        memory[slot] = {}
    elif arg[0] and skill:
        by_skill[skill] = _counted(formula, by_skill.get(skill), at)
    return value


def _number(formula: Count, memory: Memory, at: int) -> int:
    if formula.within is None:
        return memory or 0
    return len(memory) - bisect_left(memory, at - formula.within) if memory else 0


def _counted(formula: Count, memory: Memory, at: int) -> Memory:
    """The memory with one more entry in it, as far as any verdict can ask."""
    if formula.within is None:
        return min((memory or 0) + 1, formula.cap)
    memory = memory if memory is not None else []
    insort(memory, at)
    if len(memory) > formula.cap:
        del memory[0]
    return memory
