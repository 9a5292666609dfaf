"""A rule's formulas as one list of nodes, children before parents, equal ones once; what a program is made from.

A node's *level* counts the hard nodes below it: those whose memory is not a few bits (a bound in time, a count by
skill). What is of one level is worked out in one phase (phase.py); the hard nodes between two phases run by themselves.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

from .atom import Atom
from .formula import AllOf, AnyOf, Count, Formula, Not, Once, Previous, Since, Status

SOFT_COUNT = 64  # a count that needs to go further than this is kept apart instead of in the bits of a phase


@dataclass(slots=True)
class Node:
    """One subformula.

    `args` are numbers of earlier nodes; `formula` holds bounds and words; `width` its bits of memory.
    """

    formula: Formula
    args: tuple[int, ...] = ()
    level: int = 0
    hard: bool = False
    width: int = 0


@dataclass(slots=True)
class Nodes:
    """The nodes of one rule in order."""

    all: list[Node] = field(default_factory=list)
    _known: dict[str, int] = field(default_factory=dict)

    def add(self, formula: Formula) -> int:
        """The number of a formula's node, made with its children if it is new."""
        name = repr(formula)
        if name not in self._known:
            args = tuple(self.add(child) for child in _children(formula))
            hard = _is_hard(formula)
            level = max((self.all[arg].level for arg in args), default=0) + hard
            self.all.append(Node(formula, args, level, hard, 0 if hard else _width(formula)))
            self._known[name] = len(self.all) - 1
        return self._known[name]


def _children(formula: Formula) -> tuple[Formula, ...]:
    if isinstance(formula, Atom | Status):
        return ()
    if isinstance(formula, AllOf | AnyOf):
        return formula.of
    if isinstance(formula, Since):
        return (formula.held, formula.began)
    if isinstance(formula, Count) and formula.after is not None:
        return (formula.of, formula.after)
    return (formula.of,)


def _is_hard(formula: Formula) -> bool:
    if isinstance(formula, Count):
        return formula.within is not None or formula.same_skill or formula.cap > SOFT_COUNT
    return isinstance(formula, Once | Since) and formula.within is not None


def _width(formula: Formula) -> int:
    if isinstance(formula, Count):
        return formula.cap.bit_length()
    return 1 if isinstance(formula, Previous | Once | Since) else 0


def holds_count(formula: Count, number: int) -> bool:
    """Whether a number is within the bounds of a count."""
    return (formula.at_least is None or number >= formula.at_least) and (
        formula.at_most is None or number <= formula.at_most
    )


class Effect(NamedTuple):
    """What an entry could do to a rule, whatever came before: move a memory, make an output true."""

    moves: bool
    breaks: bool


def effect(nodes: list[Node], atoms: dict[int, bool | None], outputs: tuple[int, ...]) -> Effect:
    """What an entry with these atoms could do, worked out with three values: None is 'depends'.

    Where it could do neither, the entry passes the rule untouched.
    """
    value: list[bool | None] = []
    moves = False
    for number, node in enumerate(nodes):
        arg = [value[one] for one in node.args]
        value.append(atoms[number] if isinstance(node.formula, Atom) else _without_memory(node.formula, arg))
        moves = moves or _moves(node.formula, arg)
    return Effect(moves, any(value[one] is not False for one in outputs))


def _without_memory(formula: Formula, arg: list[bool | None]) -> bool | None:
    """The value of a node where it is the same whatever came before."""
    if isinstance(formula, Not):
        return None if arg[0] is None else not arg[0]
    if isinstance(formula, AllOf):
        return False if False in arg else None if None in arg else True
    if isinstance(formula, AnyOf):
        return True if True in arg else None if None in arg else False
    if (isinstance(formula, Once) and arg[0]) or (isinstance(formula, Since) and arg[1]):
        return True
    return False if isinstance(formula, Since) and arg == [False, False] else None


def _moves(formula: Formula, arg: list[bool | None]) -> bool:
    """Whether the memory of a node could be another after the entry."""
    if isinstance(formula, Once):
        return arg[0] is not False
    if isinstance(formula, Since):
        return arg[0] is not True or arg[1] is not False
    if isinstance(formula, Count):
        return any(one is not False for one in arg)
    return isinstance(formula, Previous)
