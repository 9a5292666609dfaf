"""Sealing as a tablet does, by the library: for tests that begin where the tablet has ended."""

from __future__ import annotations

import base64
import json
from collections.abc import Mapping
from typing import Any

from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, EllipticCurvePublicKey

from caseload.models import Episode
from checklists.sealed.bringing import bring
from checklists.sealed.models import SealedMark
from clinic.ledger.sealing import ENC_BYTES, PURPOSE, SUITE, public_key
from clinic.staff.models import Staff
from tests.makers import an_attempt


def sealed(author: Staff, episode: Episode, entry: Mapping[str, Any], **said: Any) -> dict[str, str]:
    """A mark as it travels. `said`: another `id` or `staff` than what it is bound to, another `content`."""
    name, _, point = public_key().partition(" ")
    public = EllipticCurvePublicKey.from_encoded_point(SECP256R1(), base64.b64decode(point))
    content = said.get("content", {"entry": entry, "episode": str(episode.pk)})
    info = "\n".join((PURPOSE, entry["id"], author.reference)).encode()
    whole = SUITE.encrypt(json.dumps(content).encode(), public, info=info)
    return {
        "id": said.get("id", entry["id"]),
        "staff": said.get("staff", author.reference),
        "key": name,
        "enc": base64.b64encode(whole[:ENC_BYTES]).decode(),
        "box": base64.b64encode(whole[ENC_BYTES:]).decode(),
    }


def a_sealed_mark(author: Staff, episode: Episode, *, by: Staff, **fields: Any) -> SealedMark:
    """One that waits for its author, brought by somebody else."""
    entry = an_attempt(**fields)
    bring(actor=by, marks=[sealed(author, episode, entry)])
    return SealedMark.objects.get(mark=entry["id"])
