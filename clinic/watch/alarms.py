"""Alarms: the one way to say that something was found which a person has to look at.

An open alarm stands as a banner on every page of clinic leads and records officers, who hear of it by notice and e-mail
too, and it makes the health address fail.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.utils.translation import gettext as _

from clinic import access
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.outbox.post import publish
from clinic.staff.models import Staff
from clinic.watch.models import Alarm

LONGEST = 2000


def raise_alarm(kind: str, text: str, *, at: datetime, key: str) -> bool:
    """Raise an alarm; True when it is new. The same key while one is open is the same alarm: nobody is told again.

    `text` is a plain sentence for leads and records officers, without a word about any person. It is written in the
    caller's transaction where there is one: raise it outside of what may be rolled back.
    """
    with transaction.atomic():
        alarm = Alarm(kind=kind, key=key, text=text[:LONGEST], raised_at=at)
        Alarm.objects.bulk_create([alarm], ignore_conflicts=True)
        if not Alarm.objects.filter(pk=alarm.pk).exists():
            return False
        trail.record(None, "alarm.raised", "alarm", alarm.pk, at=at, detail={"kind": kind})
        publish("alarm.raised", {"alarm": str(alarm.pk)}, at=at, dedupe_key=f"alarm.raised:{alarm.pk}")
    return True


def settle(key: str, *, actor: Staff | None, at: datetime, text: str) -> bool:
    """Close the open alarm of this key; True when there was one.

    Nobody as the actor: what raised it found that all is well again, and says so in `text`. A person says what came of
    it; refused without a word of it, and to whoever may not.
    """
    if actor is not None:
        access.permit(actor, Action.SETTLE_ALARM, at)
    if not text.strip():
        raise Invalid(_("Say what was found and done about it: that is what a later reader will ask."))
    if len(text) > LONGEST:
        raise Invalid(_("That is longer than {longest} letters. Say the main thing.").format(longest=LONGEST))
    with transaction.atomic():
        alarm = Alarm.objects.select_for_update().filter(key=key, settled_at__isnull=True).first()
        if alarm is None:
            if actor is not None:
                raise Conflict(_("This alarm is settled already. Open the page again."))
            return False
        alarm.settled_at, alarm.settled_by, alarm.settled_text = at, actor, text.strip()
        alarm.save(update_fields=["settled_at", "settled_by", "settled_text"])
        trail.record(actor, "alarm.settled", "alarm", alarm.pk, at=at, detail={"kind": alarm.kind})
    return True
