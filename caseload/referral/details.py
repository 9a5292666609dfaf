"""What a referral says."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferralDetails:
    """As the referrer sent it. `features`: what the knee has; None where nobody knows it yet, not 'nothing'."""

    received_on: date
    reason: str
    urgency: str
    level: str
    side: str
    features: Sequence[str] | None = None
    referrer: str = ""
