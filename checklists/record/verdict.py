"""What the one write path answers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

Outcome = Literal["accepted", "repeated", "refused", "held"]


@dataclass(slots=True)
class Verdict:
    """What became of one entry. `error` begins with the field at fault and a colon; of a held one it says why it
    waits."""

    id: str | None
    outcome: Outcome
    error: str | None = None
    alerts: list[dict[str, Any]] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Raised:
    """An alert as it is told: which rule, on which act, and what to do now."""

    rule: str
    entry: str
    severity: str
    sentence: str
    do_now: str
    at: datetime

    def told(self) -> dict[str, Any]:
        """For a page or an API."""
        return {
            "rule": self.rule,
            "entry": self.entry,
            "severity": self.severity,
            "sentence": self.sentence,
            "do_now": self.do_now,
            "at": self.at,
        }


@dataclass(frozen=True, slots=True)
class Recorded:
    """What became of one call, entry by entry in the order given, and which alerts it raised and withdrew.

    `judged`: a sentence where something could not be read of what the sender had judged; nothing hangs on it.
    """

    verdicts: list[Verdict]
    raised: list[Raised]
    withdrawn: list[Raised]
    judged: str | None = None

    @property
    def waits(self) -> bool:
        """Whether something of it waits for a clinic lead to let it in."""
        return any(verdict.outcome == "held" for verdict in self.verdicts)

    def outcomes(self) -> Mapping[str, int]:
        """How many of each outcome."""
        counts: dict[str, int] = {}
        for verdict in self.verdicts:
            counts[verdict.outcome] = counts.get(verdict.outcome, 0) + 1
        return counts
