"""Who may put their name to a skill: a current registration, and the authorisation for each knee feature that it
needs."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext as _

from checklists.domain import Protocol
from clinic.staff.credentials import credentials
from clinic.staff.models import Staff
from clinic.staff.roles import KneeFeature


def lacking(staff: Staff, protocol: Protocol, skill: str, day: date) -> list[str]:
    """What this member of staff lacks, on a day, to sign this skill off; nothing where they may. One sentence each."""
    held = credentials(staff, day)
    said = []
    if not held.registered:
        said.append(_("{name} has no professional registration that is current on this day.").format(name=staff.name))
    needs = [feature for feature in protocol.skills[skill].needs if feature in KneeFeature.values]
    said += [
        _("{name} is not authorised for this knee feature on this day: {feature}.").format(
            name=staff.name, feature=KneeFeature(feature).label
        )
        for feature in needs
        if feature not in held.features
    ]
    return said
