"""Where a part is fitted whose exchange is a fact of the record as well."""

from uuid import UUID

from django.urls import reverse
from django.utils.http import urlencode

from caseload.prosthesis.models import PartKind


def bench_form(episode_id: UUID, kind: str, side: str) -> str:
    """The form of the Bench that writes both, for a new part of this kind on this side."""
    asked = urlencode({"setting": kind, "side": side, "new": "1"})
    return f"{reverse('bench_person', args=[episode_id])}?{asked}"


def strikes_out(episode_id: UUID, entry: str) -> str:
    """Where a fact that names a part is struck out, and then recorded again."""
    return f"{reverse('strike_out', args=[episode_id])}?{urlencode({'entry': entry})}"


def first_knee(episode_id: UUID, side: str) -> str:
    """The same for the knee of a prosthesis that has none yet."""
    return bench_form(episode_id, PartKind.KNEE, side)
