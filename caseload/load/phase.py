"""How far along an episode is, as far as planning time goes, and what it costs. Pure.

No published weight exists for this work: phases, their limits and the minutes below are the clinic's defaults
(common practice, no source). A lead sets the minutes; local policy decides what a fair load is.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from caseload.load.models import Phase

NEW_FOR = timedelta(weeks=8)
SEEN_WITHIN = timedelta(weeks=4)  # a session planned or held within four weeks either way: still training


@dataclass(frozen=True, slots=True)
class Minutes:
    """Minutes a week for a person in a phase; more for two prostheses."""

    one: int
    extra: int = 0


DEFAULTS: Mapping[str, Minutes] = {
    Phase.NEW: Minutes(120, 45),
    Phase.TRAINING: Minutes(90, 30),
    Phase.KEEPING: Minutes(20, 5),
    Phase.PAUSED: Minutes(5),
}


def phase_of(*, paused: bool, age: timedelta, session_near: bool) -> Phase:
    """Paused before all; then new for eight weeks; then training as long as sessions are near, else reviews only."""
    if paused:
        return Phase.PAUSED
    if age < NEW_FOR:
        return Phase.NEW
    return Phase.TRAINING if session_near else Phase.KEEPING


def minutes_for(phase: str, side: str, weights: Mapping[str, Minutes]) -> int:
    """What a person costs a week."""
    weight = weights[phase]
    return weight.one + (weight.extra if side == "both" else 0)
