"""A case as a file: what `node tests/replay.mjs` and `manage.py replay` read, and what the two cores had said."""

from __future__ import annotations

import io
import zipfile
from dataclasses import dataclass
from uuid import UUID

import orjson
from django.db import transaction
from django.utils.translation import gettext as _

from checklists.judged.models import Difference
from checklists.judged.services import history_digest
from checklists.record.models import EntryContent
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict
from clinic.staff.models import Staff

PROTOCOL, HISTORY, CASE = "protocol.json", "history.jsonl", "case.json"
HOW = "manage.py replay protocol.json history.jsonl; node tests/replay.mjs protocol.json history.jsonl"


@dataclass(frozen=True, slots=True)
class Taken:
    """The file, with the name that it is saved under."""

    name: str
    content: bytes


@transaction.atomic(durable=True)
def take_case(*, actor: Staff, difference_id: UUID) -> Taken:
    """The case as a zip file, accounted for: the record of one person up to the entry, in full. As often as need be."""
    at = clock.now()
    access.permit(actor, Action.SEE_DIFFERENCES, at)
    rows = Difference.objects.select_related("protocol")
    case = access.get(actor, Action.SEE_DIFFERENCES, rows, at=at, pk=difference_id)
    bodies = EntryContent.objects.filter(entry__episode=case.episode_id, entry__number__lte=case.number)
    lines = [body.encode() for body in bodies.order_by("entry__number").values_list("body", flat=True)]
    if history_digest(lines) != case.history:
        raise Conflict(
            _("The record is no longer the one of this case: run verify_ledger, and tell a records officer.")
        )
    trail.record(actor, "difference.taken_out", "difference", case.pk, at=at, episode=case.episode_id)
    files = {
        PROTOCOL: case.protocol.document.encode(),
        HISTORY: b"".join(line + b"\n" for line in lines),
        CASE: orjson.dumps(_said(case), option=orjson.OPT_INDENT_2),
    }
    return Taken(f"judged-{str(case.entry)[:8]}.zip", _zipped(files, case.found_at.timetuple()[:6]))


def _said(case: Difference) -> dict[str, object]:
    return {
        "entry": str(case.entry),
        "tablet": case.claimed,
        "server": {"alerts": case.found},
        "core": case.core,
        "protocol": {"name": str(case.protocol), "digest": case.digest},
        "history": case.history,
        "found_at": case.found_at,
        "read_with": HOW,
    }


def _zipped(files: dict[str, bytes], when: tuple[int, ...]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name, content in files.items():
            member = zipfile.ZipInfo(name, (when[0], when[1], when[2], when[3], when[4], when[5]))
            member.compress_type = zipfile.ZIP_DEFLATED
            made.writestr(member, content)
    return out.getvalue()
