"""What a referral says."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferralDetails:
    """As the referrer sent it. `features` are those of the knee fitted, none where there is no knee yet."""

    received_on: date
    reason: str
    urgency: str
    level: str
    side: str
    features: Sequence[str] = ()
    referrer: str = ""
