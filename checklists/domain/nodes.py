"""A rule's formulas as one list of nodes, children before parents, equal ones once; what a program is made from.

A node's *level* counts the hard nodes below it: those whose memory is not a few bits (a bound in time, a count by skill).
Everything of one level is worked out in one phase (phase.py); the hard nodes between two phases run by themselves.
"""

from dataclasses import dataclass, field

from .atom import Atom
from .formula import All, Any_, Count, Formula, Not, Once, Previous, Since, Status

SOFT_COUNT = 64  # a count that needs to go further than this is kept apart instead of in the bits of a phase


@dataclass(slots=True)
class Node:
    """One subformula. `args` are numbers of earlier nodes; `formula` holds bounds and words; `width` its bits of memory."""

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
    if isinstance(formula, All | Any_):
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


def may_change(nodes: list[Node], atoms: dict[int, bool | None], outputs: tuple[int, ...]) -> bool:
    """Whether an entry with these atoms could change any memory or make an output true, whatever came before.

    Worked out with three values: None is 'depends'. A False answer is what lets an entry pass a rule untouched.
    """
    value: list[bool | None] = []
    for number, node in enumerate(nodes):
        arg = [value[one] for one in node.args]
        formula = node.formula
        result: bool | None = None
        if isinstance(formula, Atom):
            result = atoms[number]
        elif isinstance(formula, Not):
            result = None if arg[0] is None else not arg[0]
        elif isinstance(formula, All):
            result = False if False in arg else None if None in arg else True
        elif isinstance(formula, Any_):
            result = True if True in arg else None if None in arg else False
        elif isinstance(formula, Previous):
            return True
        elif isinstance(formula, Once) and arg[0] is not False:
            return True
        elif isinstance(formula, Since) and (arg[0] is not True or arg[1] is not False):
            return True
        elif isinstance(formula, Count) and any(one is not False for one in arg):
            return True
        value.append(result)
    return any(value[one] is not False for one in outputs)


__all__ = ["Node", "Nodes", "holds_count", "may_change"]
