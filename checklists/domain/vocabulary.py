"""The words that a protocol knows: what entries and atoms may name (SEMANTICS.md §1 and §2)."""

from dataclasses import dataclass, field

RAILS = ("both_rails", "one_rail")  # a person with two prostheses has these in place of the two below
ONE_SIDED = ("contralateral_rail", "ipsilateral_rail")


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Every word of one protocol, in its order. `rungs` maps a skill to all rungs that an attempt of it may name."""

    support: tuple[str, ...]
    help: tuple[str, ...]
    deviations: dict[str, str]
    measures: dict[str, str]
    checks: dict[str, tuple[str, ...]]
    rungs: dict[str, frozenset[str]] = field(default_factory=dict)
    tags: frozenset[str] = frozenset()

    def knows_support(self, word: str) -> bool:
        """A support without a skill: one of the protocol's, or a rail of a person with two prostheses."""
        return word in self.support or word in RAILS
