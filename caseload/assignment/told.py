"""What a lead is told before and after a person is moved to another therapist."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext


def with_whom(staff: str, site: str, booked: Sequence[str]) -> str:
    """'Now with Sorrel Tidewick. Comes to Quay Street; 1 session planned.'"""
    now = _("Now with {name}.").format(name=staff) if staff else _("Now with nobody.")
    comes = _("Comes to {site}").format(site=site)
    many = ngettext("{n} session planned", "{n} sessions planned", len(booked)).format(n=len(booked))
    return f"{now} {comes}; {many}."


def sessions_after(before: str, left: Sequence[str]) -> str:
    """Of the sessions that were booked with whoever carried the person: moved along, or which are still with them."""
    if not left:
        return _("The planned sessions went with them.")
    words = ngettext(
        "{n} session is still with {name}: {days}.",
        "{n} sessions are still with {name}: {days}.",
        len(left),
    )
    return words.format(n=len(left), name=before, days="; ".join(left))
