"""How long somebody may wait. The limits are the clinic's defaults, without a source: local policy decides."""

from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext as _

from caseload.words import days_words

# urgency → days within which the person should have a therapist (common practice, no source)
LIMIT_DAYS = {"urgent": 7, "soon": 14, "routine": 28}


@dataclass(frozen=True, slots=True)
class Wait:
    """Days waited, and the limit for this urgency."""

    days: int
    limit: int

    @property
    def over(self) -> int:
        """Days beyond the limit; 0 while within it (the last day of the limit is within)."""
        return max(0, self.days - self.limit)

    @property
    def limit_words(self) -> str:
        """'over the limit of 28 days', 'limit 28 days'."""
        words = _("over the limit of {days}") if self.over else _("limit {days}")
        return words.format(days=days_words(self.limit))


def wait_on(received_on: date, urgency: str, today: date) -> Wait:
    """The wait of a referral on a day of the site; received today is 0 days."""
    return Wait(max(0, (today - received_on).days), LIMIT_DAYS[urgency])
