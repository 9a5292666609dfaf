"""Who comes to the invented clinic in the demo's year: sixty open today, forty done, some who wait. Pure.

Days are counted from the first start of the demo (day 0), so that the clinic is always as old as its visitor expects.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from checklists.demo.cast import DELE, EVERY_FEATURE, JONAS, LUCIE, RUNA, SORREL, Member
from checklists.demo.names import made_up_name
from checklists.demo.situations import SITUATIONS

SEED = "alder reach"
CLOSED, OPEN, WAITING = 40, 60, 6
ALL = ("lock", "free_swing", "yielding", "resistance")
KNEES = (
    ALL,
    ALL,
    ("lock", "yielding", "resistance"),
    ("free_swing", "yielding"),
    ("yielding", "resistance"),
    ("lock",),
)
REASONS = (
    "Wants to walk to the shop and carry the bread home.",
    "First prosthesis after a long stay in hospital.",
    "New knee; used to walk with a locked one.",
    "Wants to take the stairs to their own bedroom again.",
    "Falls on slopes; asks to learn them properly.",
    "Would like to cycle with the children.",
)
# One mistake to a person, put among those who are done or far along: the others' courses are clean.
MISTAKEN = (
    "start_check", "alone", "support_step", "prerequisite", "feature", "lock_verified", "walking_mode_proven",
    "no_weight_in_free_swing", "free_swing_proven_off", "free_swing_switched_on_safely", "failed_check_cleared",
    "first_stairs_down", "contralateral_before_ipsilateral", "yield_proven_after_change", "assistant_limits",
    "fall_review", "gap",
)  # fmt: skip  # a list of words


@dataclass(frozen=True, slots=True)
class Resident:
    """One person of the demo. `begins`: the day of the first session, nothing for who waits; `ends`: of the last."""

    number: int
    given: str
    family: str
    born: int
    therapist: Member
    side: str = "left"
    features: tuple[str, ...] = ALL
    urgency: str = "routine"
    reason: str = REASONS[0]
    referred: int = -30
    begins: int | None = None
    ends: int | None = None
    skill: float = 0.94
    skills_a_session: int = 3
    adjustments: dict[int, str] = field(default_factory=dict)
    mistake: str = ""
    situation: str = ""
    away: tuple[int, int] | None = None

    @property
    def name(self) -> str:
        """As the tour names them."""
        return f"{self.given} {self.family}"

    @property
    def site(self) -> str:
        """Where their therapist works."""
        return self.therapist.site

    @property
    def level(self) -> str:
        """The amputation level of the referral."""
        odd = ("knee_disarticulation", "transfemoral", "transfemoral", "transfemoral")
        return "bilateral" if self.side == "both" else odd[self.number % 4]


def residents(seed: str = SEED) -> list[Resident]:
    """Everybody, in the order in which they were referred to the clinic; the same for the same seed."""
    chance = random.Random(seed)  # noqa: S311 - a simulation that must come out the same again
    taken = {situation.person for situation in SITUATIONS.values()}
    found = [_closed(chance, taken, number) for number in range(CLOSED)]
    named = [_named(chance, key, number) for number, key in enumerate(SITUATIONS)]
    still_open = sum(1 for who in named if who.begins is not None)
    found += named
    found += [_open(chance, taken, number) for number in range(OPEN - still_open)]
    found += [_waiting(chance, taken, number) for number in range(WAITING - (len(named) - still_open))]
    found.sort(key=lambda who: who.referred)
    return [replace(who, number=number) for number, who in enumerate(found)]


def _somebody(chance: random.Random, taken: set[str], carrier: Member) -> Resident:
    given, family = made_up_name(chance, taken)
    return Resident(
        number=0,
        given=given,
        family=family,
        born=chance.randint(1941, 2004),
        therapist=carrier,
        side=chance.choice(("left", "right")),
        features=chance.choice(_knees_for(carrier)),
        urgency=chance.choice(("routine", "routine", "routine", "soon")),
        reason=chance.choice(REASONS),
        skill=chance.uniform(0.91, 0.98),
        skills_a_session=chance.choice((2, 3, 3, 4)),
    )


def _knees_for(carrier: Member) -> Sequence[tuple[str, ...]]:
    """Knees for which a therapist is authorised: the lead would not have chosen them otherwise."""
    return [knee for knee in KNEES if {*knee} & {*EVERY_FEATURE} <= {*carrier.features}]


def _closed(chance: random.Random, taken: set[str], number: int) -> Resident:
    """Somebody whose course is over: two to four months some time in the year."""
    who = _somebody(chance, taken, (RUNA, JONAS, LUCIE, SORREL, DELE)[number % 5])
    begins = chance.randint(-355, -125)
    mistake = MISTAKEN[number // 2] if number % 2 == 0 and number // 2 < len(MISTAKEN) else ""
    if mistake:
        features = ("yielding", "resistance") if mistake == "feature" else ALL
        who = replace(who, features=features, mistake=mistake, therapist=(RUNA, JONAS, SORREL)[number % 3])
    adjustments = {chance.randint(4, 8): chance.choice(("alignment", "resistance"))} if number % 3 == 0 else {}
    if mistake == "yield_proven_after_change":
        begins, adjustments = -330, {11: "resistance"}
    away = (begins + 70, begins + 105) if mistake == "gap" else None
    ends = begins + (110 if mistake else chance.randint(50, 95))
    return replace(
        who, begins=begins, ends=ends, referred=begins - chance.randint(8, 45), adjustments=adjustments, away=away
    )


def _open(chance: random.Random, taken: set[str], number: int) -> Resident:
    """Somebody who comes these weeks: from the first days to months along."""
    who = _somebody(chance, taken, (JONAS, LUCIE, DELE, SORREL)[number % 4])
    begins = -chance.choice((2, 5, 9, 14, 20, 27, 35, 42, 50, 60, 70, 85, 100)) - chance.randint(0, 2)
    adjustments = {chance.randint(3, 8): chance.choice(("alignment", "resistance"))} if number % 4 == 0 else {}
    side = "both" if number == 7 else who.side
    return replace(
        who,
        begins=begins,
        referred=begins - chance.randint(6, 40),
        adjustments=adjustments,
        side=side,
        features=("lock", "yielding", "resistance") if side == "both" else who.features,
    )


def _waiting(chance: random.Random, taken: set[str], number: int) -> Resident:
    """Somebody on the waiting list."""
    who = _somebody(chance, taken, RUNA)
    return replace(who, referred=-chance.randint(3, 45))


def _named(chance: random.Random, key: str, number: int) -> Resident:
    """The person who stands for a situation of the tour."""
    situation = SITUATIONS[key]
    given, family = situation.person.split()
    return Resident(
        number=0,
        given=given,
        family=family,
        born=chance.randint(1948, 1999),
        therapist=situation.therapist,
        side=situation.side,
        features=situation.features,
        urgency=situation.urgency,
        reason=REASONS[number % len(REASONS)],
        referred=situation.referred if situation.begins is None else situation.begins - 12,
        begins=situation.begins,
        skill=0.96,
        skills_a_session=4,
        adjustments=dict(situation.adjustments),
        situation=key,
    )
