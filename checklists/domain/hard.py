"""Hard nodes: temporal operators with a bound in time, and counts by skill (SEMANTICS.md §3).

Their memory is plain JSON, kept in the state of the sequence: for `once` and `since` the latest instant that can
still help, for `count` the latest instants, no more than the count can ever ask for. 'Latest' is by instant, not by
order: the opening stands first whatever its instant.
"""

from bisect import bisect_left, insort
from collections.abc import Iterator
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


def value(node: Node, memory: Memory, arg: tuple[int, ...], at: int, skill: str | None) -> bool:
    """The value at an entry with these values of the operands, from the memory of what came before it."""
    formula = node.formula
    if isinstance(formula, Once):
        return bool(arg[0]) or _recent(memory, at, formula)
    if isinstance(formula, Since):
        return bool(arg[1]) or (bool(arg[0]) and _recent(memory, at, formula))
    if not isinstance(formula, Count):
        raise TypeError(f"{formula!r} is not hard")
    if formula.same_skill:
        return holds_count(formula, _number(formula, memory.get(skill), at) if skill else 0)
    return holds_count(formula, _number(formula, memory, at))


def moved(node: Node, memory: Memory, arg: tuple[int, ...], at: int, skill: str | None) -> Memory:
    """The memory after the entry."""
    formula = node.formula
    if isinstance(formula, Once):
        return at if arg[0] and (memory is None or memory < at) else memory
    if isinstance(formula, Since):
        memory = memory if arg[0] else None
        return at if arg[1] and (memory is None or memory < at) else memory
    if not isinstance(formula, Count):
        raise TypeError(f"{formula!r} is not hard")
    if formula.after is not None and arg[1]:
        return first_memory(node)
    if not arg[0]:
        return memory
    if not formula.same_skill:
        return _counted(formula, memory, at)
    if skill and formula.cap:  # 'at least 0' asks nothing, and the short way (quick.py) keeps nothing either
        memory[skill] = _counted(formula, memory.get(skill), at)
    return memory


def remembered(memory: Memory) -> Iterator[int]:
    """Every instant in the memory of a node with a bound in time."""
    if isinstance(memory, int):
        yield memory
    elif memory is not None:
        for inner in memory.values() if isinstance(memory, dict) else memory:
            yield from remembered(inner)


def _recent(memory: Memory, at: int, formula: Once | Since) -> bool:
    return memory is not None and formula.within is not None and at - memory <= formula.within


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
