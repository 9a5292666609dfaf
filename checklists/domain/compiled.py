"""What is worked out once for a protocol and serves every entry and every episode."""

from typing import TYPE_CHECKING, Literal

from .facts import AttemptFacts, Facts
from .monitor import View, Watch
from .plan import Plan
from .program import Program
from .rule import BUILTIN_RULES
from .shape import Shape, Shapes
from .steps import STEPS, attempt

if TYPE_CHECKING:
    from .protocol import Protocol


class Compiled:
    """The compiled form of a protocol. Rules have numbers here: the document's in its order, then the built-in ones."""

    def __init__(self, protocol: "Protocol") -> None:
        self.protocol = protocol
        self.shapes = Shapes(protocol)
        self.plans = (Plan(protocol, both=False), Plan(protocol, both=True))
        self._planned: dict[tuple[str, str, str], Shape] = {}
        self.programs = [Program(rule) for rule in protocol.rules.values()]
        self.watch = Watch(self.programs, {key: check.per_knee for key, check in protocol.checks.items()})
        self.deadlines = frozenset(number for number, one in enumerate(self.programs) if one.rule.is_deadline)
        self.first_builtin = len(self.programs)
        self.rule_keys = [*protocol.rules, *BUILTIN_RULES]
        self.severities = [rule.severity for rule in protocol.rules.values()]
        self.severities += [rule.severity for rule in BUILTIN_RULES.values()]

    def planned(self, skill: str, support: str, help_: str) -> Shape:
        """The shape of a safe attempt that is only planned."""
        key = skill, support, help_
        found = self._planned.get(key)
        if found is None:
            fields = {"kind": "attempt", "skill": skill, "support": support, "help": help_, "result": "safe"}
            found = self._planned[key] = self.shapes.of(fields)
        return found

    def facts(self, shape: Shape, both: int) -> Facts | AttemptFacts:
        """What follows from a shape for the fold."""
        found = shape.facts[both]
        if found is None:
            plan = self.plans[both]
            if shape.kind == "attempt":
                found = AttemptFacts(shape, plan, attempt)
            else:
                found = Facts(shape, plan, STEPS.get(shape.kind))
            shape.facts[both] = found
        return found

    def view(self, shape: Shape, knee: int) -> View | Literal[False]:
        """What a sequence's rules must do about a shape; False where it does not stand in the sequence."""
        found = shape.views[knee]
        if found is None:
            found = self.watch.view(shape, knee) or False
            shape.views[knee] = found
        return found
