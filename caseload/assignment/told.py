"""What a lead is told before and after a person is moved to another therapist."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext


def with_whom(staff: str, site: str, booked: Sequence[str]) -> str:
    """'Now with Sorrel Tidewick. Stays at Quay Street; 1 session planned.'"""
    now = _("Now with {name}.").format(name=staff) if staff else _("Now with nobody.")
    comes = _("Stays at {site}").format(site=site)
    many = ngettext("{n} session planned", "{n} sessions planned", len(booked)).format(n=len(booked))
    return f"{now} {comes}; {many}."


def place_after(site: str, staff: str, theirs: str) -> str:
    """Whoever moves to a therapist of another site goes on coming to their own; nothing where it is the same."""
    if theirs in ("", site):
        return ""
    return _("They still come to {site}; {staff} is at {theirs}.").format(site=site, staff=staff, theirs=theirs)


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
