"""The protocol by which new episodes are judged."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from checklists.record import protocols
from clinic import access
from clinic.access import Action
from clinic.staff.models import Staff


def current_document(actor: Staff, *, at: datetime) -> dict[str, Any]:
    """The document as it is stored (SEMANTICS.md §2). Its thresholds are the clinic's defaults."""
    access.permit(actor, Action.SEE_PROTOCOL, at)
    return protocols.loaded(protocols.current(at).pk).document
