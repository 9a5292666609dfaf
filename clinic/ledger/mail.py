"""The day's checkpoint by e-mail to the records officers: a copy that lies in other people's hands.

The mail holds no word about any person: the signed note, and the fingerprints of the keys, to be compared with those
that were written down when the keys were made.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.conf import settings
from django.core.mail import EmailMessage
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from clinic.language import dates, tags
from clinic.ledger import keys, proofs
from clinic.ledger.models import Checkpoint
from clinic.outbox.post import publish
from clinic.staff.models import Staff
from clinic.staff.roles import Role

TOPIC = "checkpoint.mailed"
TEXT = gettext_noop(
    """\
This is the state of the record at {address}, as it was sealed at {at}.

Keep this mail. Whoever verifies the record later can hold it against these lines: they show whether anything that was
in the record by then has been changed, removed or moved since.

{note}
Keys that sign (SHA-256 of the public key). Compare them with those written down when they were made:
{keys}
"""
)


def mail_daily(at: datetime) -> int:
    """Put the newest checkpoint into the outbox for every records officer, once a day. Returns to how many."""
    row = proofs.newest()
    if row is None:
        return 0
    day = at.date()
    held = Staff.objects.filter(
        is_active=True, role_terms__role=Role.RECORDS_OFFICER, role_terms__period__contains=day
    ).exclude(email="")
    officers = list(held.distinct().values_list("pk", flat=True))
    for pk in officers:
        publish(TOPIC, {"checkpoint": row.pk, "staff": str(pk)}, at=at, dedupe_key=f"{TOPIC}:{day}:{pk}")
    return len(officers)


def send(payload: Mapping[str, Any], at: datetime) -> None:
    """Write to one records officer. The same news again is the same message."""
    staff = Staff.objects.filter(pk=payload["staff"], is_active=True).exclude(email="").first()
    if staff is None:
        return
    row = Checkpoint.objects.get(pk=payload["checkpoint"])
    prints = "\n".join(key.fingerprint for key in keys.ring().keys if key.last is None)
    host = settings.PUBLIC_ADDRESS.split("//")[-1].split("/")[0].split(":")[0]
    with tags.speaking_to(staff.language):
        given = {"address": settings.PUBLIC_ADDRESS, "at": f"{row.at:%Y-%m-%d %H:%M} UTC"}
        body = _(TEXT).format(**given, note=row.note, keys=prints)
        subject = _("The record's checkpoint of {day}: {n} rows").format(day=dates.day(row.at), n=row.size)
    EmailMessage(
        subject=subject,
        body=body,
        to=[staff.email],
        headers={"Message-ID": f"<{TOPIC}.{row.pk}.{staff.pk}@{host}>", "Auto-Submitted": "auto-generated"},
    ).send()
