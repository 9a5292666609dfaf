"""The timeline: every fact with who, when and where from, newest first. What was struck out stays, with the reason."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from itertools import groupby
from typing import Any
from uuid import UUID

import orjson
from django.db.models import Q

from checklists.domain.kinds import BESIDE
from checklists.keeping.corrections import Correction, corrections_of
from checklists.person.facts import Told, tell
from checklists.record.models import EntryContent
from checklists.record.moving import STAYS
from checklists.record.reception import SIGNING, action_of
from checklists.signoff.selectors import Printed, by_entry
from checklists.words.tables import worded
from clinic import clock
from clinic.audit.models import Origin
from clinic.web.pages import Page, cut

SIZE = 20
_USUAL = (Origin.PAGE, Origin.COMMAND)  # how facts come in every day: said only of the others
LATE_SECONDS = 3600  # received more than an hour after it happened: said beside the fact


@dataclass(frozen=True, slots=True)
class Line:
    """One fact. `struck` is the reason and who struck it out, where it was; `corrections`: what was said to be wrong
    about it, and for a request its own; `uncounted`: safe, and of no weight for the proof."""

    entry: UUID
    number: int
    at: datetime
    kind: str
    told: Told
    by: str
    door: str
    usual: bool
    received_at: datetime
    note: str
    struck: str
    strikes: str  # the action that lets somebody strike it out; empty where it has a way of its own
    corrections: Sequence[Correction] = ()
    uncounted: bool = False

    @property
    def late(self) -> bool:
        """Whether it came in well after it happened."""
        return (self.received_at - self.at).total_seconds() > LATE_SECONDS

    @property
    def may_be_wrong(self) -> bool:
        """Whether somebody could still say that it is wrong: what is struck out is out, a request is answered."""
        return not self.struck and self.kind not in BESIDE

    @property
    def id_text(self) -> str:
        """As corrections name it."""
        return str(self.entry)

    @property
    def cursor(self) -> str:
        """Where the next page begins."""
        return f"{self.at.isoformat()}_{self.number}"


def timeline(episode_id: UUID, *, before: str = "", uncounted: Collection[str] = ()) -> Page[Line]:
    """A page of facts, and the cursor of the older ones. Strike-outs stand with what they struck, requests for
    correction and their answers with what they are about too; `uncounted`: the entries of which the core says that they
    did not count. Three statements."""
    rows = EntryContent.objects.filter(entry__episode=episode_id).exclude(entry__kind="struck_out")
    if before:
        at, number = _cursor(before)
        rows = rows.filter(Q(entry__at__lt=at) | Q(entry__at=at, entry__number__lt=number))
    found = list(rows.select_related("entry__by").order_by("-entry__at", "-entry__number")[: SIZE + 1])
    lines = [replace(line, uncounted=line.id_text in uncounted) for line in _lines(episode_id, found)]
    return cut(lines, SIZE, lambda line: line.cursor, newest=not before)


def whole_timeline(episode_id: UUID) -> list[Line]:
    """Every fact, newest first, for a print or an archive."""
    rows = EntryContent.objects.filter(entry__episode=episode_id).exclude(entry__kind="struck_out")
    return _lines(episode_id, list(rows.select_related("entry__by").order_by("-entry__at", "-entry__number")))


def _cursor(text: str) -> tuple[datetime, int]:
    """A cursor as a link carries it; one that is no cursor begins at the top."""
    try:
        at, number = text.rsplit("_", 1)
        return datetime.fromisoformat(at.replace(" ", "+")), int(number)
    except ValueError:
        return datetime.max.replace(tzinfo=clock.now().tzinfo), 0


def _strikes(episode_id: UUID) -> dict[str, str]:
    """Each struck fact's id with who struck it out and why."""
    rows = EntryContent.objects.filter(entry__episode=episode_id, entry__kind="struck_out")
    said = ((orjson.loads(body), name) for body, name in rows.values_list("body", "entry__by__name"))
    return {strike["entry"]: f"{strike['reason']} ({name})" for strike, name in said}


def _asked(episode_id: UUID) -> dict[str, list[Correction]]:
    """Each entry's id with the corrections that were asked for about it; a request's own id with itself."""
    found: dict[str, list[Correction]] = {}
    for one in corrections_of([episode_id]).get(episode_id, ()):
        for entry in filter(None, (one.target, str(one.entry))):
            found.setdefault(entry, []).append(one)
    return found


def _lines(episode_id: UUID, found: Sequence[EntryContent]) -> list[Line]:
    """Facts as they are told; what was signed bears the name that it was signed with, and what that meant."""
    struck, asked = _strikes(episode_id), _asked(episode_id)
    signed = by_entry(row.entry_id for row in found if row.entry.kind in SIGNING)
    return [_signed(_line(row, struck, asked), signed.get(row.entry_id)) for row in found]


def _signed(line: Line, signature: Printed | None) -> Line:
    if signature is None:
        return line
    by = f"{signature.name} ({worded(signature.meaning, 'meaning')})"
    detail = " · ".join(filter(None, (signature.second, line.told.detail)))
    return replace(line, by=by, told=line.told._replace(detail=detail))


def _line(row: EntryContent, struck: Mapping[str, str], asked: Mapping[str, Sequence[Correction]]) -> Line:
    fact: Mapping[str, Any] = orjson.loads(row.body)
    entry = row.entry
    return Line(
        entry=entry.id,
        number=entry.number,
        at=entry.at,
        kind=entry.kind,
        told=tell(fact),
        by=entry.by.name,
        door=entry.get_door_display(),
        usual=entry.door in _USUAL,
        received_at=entry.received_at,
        note=fact.get("note", ""),
        struck=struck.get(str(entry.id), ""),
        strikes="" if str(entry.id) in struck or entry.kind in STAYS else str(action_of(fact)),
        corrections=asked.get(str(entry.id), ()),
    )


def by_day(lines: Iterable[Line], zone: str) -> list[tuple[date, list[Line]]]:
    """The lines of each local day."""
    return [(day, list(some)) for day, some in groupby(lines, key=lambda line: clock.local_day(line.at, zone))]
