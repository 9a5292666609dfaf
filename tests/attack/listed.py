"""The closed list of kinds of tampering, as the modules of kinds fill it."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from tests.attack.world import World

Do = Callable[[World, random.Random], None]


@dataclass(frozen=True)
class Attack:
    """One kind. `alone`: found without anything from elsewhere."""

    name: str
    do: Do
    alone: bool = True


ATTACKS: dict[str, Attack] = {}


def attack(do: Do) -> Do:
    """A kind that the database and the keys betray."""
    ATTACKS[do.__name__] = Attack(do.__name__, do)
    return do


def needs_a_witness(do: Do) -> Do:
    """A kind that only a checkpoint from elsewhere betrays."""
    ATTACKS[do.__name__] = Attack(do.__name__, do, alone=False)
    return do
