"""What the owner of an account is told, by e-mail, about what was changed in how they sign in."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.core.mail import EmailMessage
from django.utils.translation import gettext as _

from clinic.language import tags
from clinic.outbox.post import publish
from clinic.staff.models import Staff

TOPIC = "sign_in.changed"


def tell_owner(staff: Staff, what: str, *, at: datetime) -> None:
    """Put it into the outbox, in the caller's transaction. `what`: a few words in English
    that the catalogues know, no name, no secret."""
    key = f"{TOPIC}:{uuid4()}"
    publish(TOPIC, {"staff": str(staff.pk), "what": what, "key": key, "at": at.isoformat()}, at=at, dedupe_key=key)


def send_mail(payload: Mapping[str, Any], at: datetime) -> None:
    """Write to the owner of the account, where they have an address. The same news again is the same message."""
    staff = Staff.objects.filter(pk=payload["staff"]).first()
    if staff is None or not staff.email:
        return
    host = settings.PUBLIC_ADDRESS.split("//")[-1].split("/")[0].split(":")[0]
    what, instant = str(payload["what"]), str(payload["at"])[:16].replace("T", " ")
    with tags.speaking_to(staff.language):
        message = EmailMessage(
            subject=_("Your sign-in has changed"),
            body=_(
                "Your sign-in at {address} has changed: {what} ({instant} UTC).\n\nIf that was not you, or not done "
                "with you, tell a clinic lead at once.\n"
            ).format(address=settings.PUBLIC_ADDRESS, what=_(what), instant=instant),
            to=[staff.email],
            headers={"Message-ID": f"<{payload['key'].replace(':', '.')}@{host}>", "Auto-Submitted": "auto-generated"},
        )
    message.send()
