"""The verification of every night: woken each hour, it runs in the small hours, or as soon as one was missed."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from clinic.ledger.keys import NoKeys
from clinic.ledger.note import NotGenuine
from clinic.ledger.verify.findings import LOOKS_LIKE, Report
from clinic.ledger.verify.run import verify
from clinic.staff.models import Site
from clinic.watch.alarms import raise_alarm
from clinic.watch.beats import beat
from clinic.watch.models import Beat

SMALL_HOURS = range(1, 5)  # by the clocks of the first site
RESTS, MISSED = timedelta(hours=12), timedelta(hours=26)
GUIDE = "Run `manage.py verify_ledger` to see it all, and read its name in the clinic's guide."


def verify_nightly(at: datetime) -> Report | None:
    """Verify everything when it is time to, and raise an alarm where something does not hold. Nothing at other times.

    An alarm stays until a person has settled it: a later run that finds nothing may only mean that somebody put back
    what they had taken.
    """
    return verify_now(at) if is_due(at) else None


def is_due(at: datetime) -> bool:
    """Whether it is night and today's has not been, or the last is too long ago."""
    last = Beat.objects.filter(name="verify").values_list("at", flat=True).first()
    if last is None or at - last >= MISSED:
        return True
    zone = Site.objects.order_by("name").values_list("time_zone", flat=True).first()
    return at - last >= RESTS and at.astimezone(ZoneInfo(zone or "UTC")).hour in SMALL_HOURS


def verify_now(at: datetime) -> Report:
    """Verify everything, now."""
    try:
        report = verify()
    except (NoKeys, NotGenuine) as fault:
        raise_alarm("ledger.unverified", f"The ledger could not be verified: {fault}", at=at, key="ledger.unverified")
        raise
    if not report.holds:
        first = report.findings[0]
        count = sum(report.counts.values())
        raise_alarm(
            "ledger.does_not_hold",
            f"The nightly verification found {count} thing{'s' if count > 1 else ''} that should not be. First, "
            f"{first.kind.value}: {first.where}. {LOOKS_LIKE[first.kind]} {report.still_holds()} {GUIDE}",
            at=at,
            key=f"ledger.does_not_hold:{first.kind}:{first.where}"[:200],
        )
    beat("verify", at, {"rows": report.rows, "leaves": report.size, "found": sum(report.counts.values())})
    return report
