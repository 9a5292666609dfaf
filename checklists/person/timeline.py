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
from checklists.keeping.about import entered_again
from checklists.keeping.corrections import Correction, corrections_of
from checklists.person.facts import Told, tell
from checklists.record.models import EntryContent
from checklists.record.reception import SIGNING, STAYS, action_of
from checklists.signoff.selectors import Printed, by_entry
from checklists.words.tables import worded
from clinic import clock
from clinic.audit.models import Origin
from clinic.staff.models import Staff
from clinic.web.pages import Page, cut

SIZE = 20
_USUAL = (Origin.PAGE, Origin.COMMAND)  # how facts come in every day: said only of the others
LATE_SECONDS = 3600  # received more than an hour after it happened: said beside the fact


@dataclass(frozen=True, slots=True)
class Strike:
    """That a fact was struck out: why and by whom, when, and the number of that entry."""

    words: str
    at: datetime
    number: int


@dataclass(frozen=True, slots=True)
class Line:
    """One fact. `gone`: that it was struck out, where it was; `corrections`: what was said to be wrong
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
    strikes: str  # the action that lets somebody strike it out; empty where it has a way of its own
    corrections: Sequence[Correction] = ()
    uncounted: bool = False
    gone: Strike | None = None
    again: str = ""  # where the right one is entered in its place, where that waits for the reader

    @property
    def struck(self) -> str:
        """The reason for which it was struck out, and who did it; nothing where it stands."""
        return self.gone.words if self.gone else ""

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


def _strikes(episode_id: UUID) -> dict[str, Strike]:
    """Each struck fact's id with who struck it out, why and when."""
    rows = EntryContent.objects.filter(entry__episode=episode_id, entry__kind="struck_out")
    said = rows.values_list("body", "entry__by__name", "entry__at", "entry__number")
    found = ((orjson.loads(body), name, at, number) for body, name, at, number in said)
    return {one["entry"]: Strike(f"{one['reason']} ({name})", at, number) for one, name, at, number in found}


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


def _line(row: EntryContent, struck: Mapping[str, Strike], asked: Mapping[str, Sequence[Correction]]) -> Line:
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
        strikes="" if str(entry.id) in struck or entry.kind in STAYS else str(action_of(fact)),
        corrections=asked.get(str(entry.id), ()),
        gone=struck.get(str(entry.id)),
    )


def with_again(
    actor: Staff, episode_id: UUID, page: Page[Line], zone: str, *, closed: bool, at: datetime
) -> Page[Line]:
    """The page with, on what was struck out today, where the right one is entered: as long as it is the actor's to
    enter, and nothing of its kind and minute came in since. No statement."""
    today, rows = clock.local_day(at, zone), page.rows

    def line(one: Line) -> Line:
        if one.gone is None or clock.local_day(one.gone.at, zone) != today or _came_since(one, one.gone, rows):
            return one
        setting = one.kind == "setting_changed"
        return replace(one, again=entered_again(actor, episode_id, one.entry, setting=setting, closed=closed, at=at))

    return Page([line(one) for one in rows], page.older, page.newest)


def _came_since(struck: Line, gone: Strike, rows: Iterable[Line]) -> bool:
    """Whether the right one stands there: of the same kind and minute, and recorded after the strike."""
    minute = struck.at.replace(second=0, microsecond=0)
    return any(
        one.gone is None
        and one.kind == struck.kind
        and one.at.replace(second=0, microsecond=0) == minute
        and one.number > gone.number
        for one in rows
    )


def by_day(lines: Iterable[Line], zone: str) -> list[tuple[date, list[Line]]]:
    """The lines of each local day."""
    return [(day, list(some)) for day, some in groupby(lines, key=lambda line: clock.local_day(line.at, zone))]
