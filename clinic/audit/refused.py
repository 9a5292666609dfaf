"""Refused access to a person, an episode or anything else that has an id, accounted for. For pages and API alike."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from clinic import clock
from clinic.audit import trail
from clinic.errors import Denied, NotFound, Refusal
from clinic.staff.models import Staff


def note_refused(actor: Staff, refusal: Refusal, path: str, route: Mapping[str, Any]) -> None:
    """Leave a row where somebody was told 'not found' or 'not yours'. `route`: what stood in the address, by name."""
    if not isinstance(refusal, NotFound | Denied):
        return
    ids = {name: value for name, value in route.items() if isinstance(value, UUID)}
    name, wanted = next(iter(ids.items()), ("page", path))
    episode = next((value for key, value in ids.items() if key.startswith("episode")), None)
    subject = name.removesuffix("_id").removesuffix("_pk")
    detail = {"code": refusal.code, "path": path[:200]}
    trail.record(
        actor, "access.refused", subject[:60], str(wanted)[:80], at=clock.now(), episode=episode, detail=detail
    )
