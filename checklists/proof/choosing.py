"""What of an episode a bundle can hold: one of its sign-offs, by what everybody calls it, or the whole record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

import orjson
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from checklists.person.facts import skill_name
from checklists.proof.around import striking, withdrawing
from checklists.proof.finding import found
from checklists.record.models import Entry
from clinic.language import dates
from clinic.staff.models import Staff

WHOLE = "whole"
KINDS = ("sign_off", "sign_off_withdrawn", "struck_out")


@dataclass(frozen=True, slots=True)
class Choice:
    """`sign_offs`: the id of each one's entry with its words, the newest first. `entries`: how many the record has."""

    episode_id: UUID
    reference: str
    person: str
    sign_offs: Sequence[tuple[str, str]]
    entries: int

    @property
    def parts(self) -> list[tuple[str, str]]:
        """All of it with words, the smallest first."""
        whole = ngettext("The whole record: {n} entry", "The whole record: {n} entries", self.entries)
        return [*self.sign_offs, (WHOLE, whole.format(n=dates.number(self.entries)))]


@dataclass(frozen=True, slots=True)
class _Fact:
    number: int
    id: UUID
    kind: str
    at: datetime
    by: str
    said: Mapping[str, Any]


def choice_of(actor: Staff, reference: str, *, at: datetime) -> Choice | None:
    """What can be chosen of the episode with this reference or id; nothing where it is that of a sign-off. Three
    statements or four. Refused as `found` refuses."""
    what = found(actor, reference, at=at)
    if what.sign_off is not None:
        return None
    episode, record = what.episode, _facts(what.episode.pk)
    struck = {str(row.said["entry"]): row for row in striking((str(one.id) for one in record), record)}
    signed = [one for one in reversed(record) if one.kind == "sign_off"]
    words = [(str(one.id), _words(one, record, struck, actor.site.time_zone)) for one in signed]
    entries = Entry.objects.filter(episode=episode.pk).count()
    return Choice(episode.pk, episode.reference, episode.person.full_name, words, entries)


def _facts(episode_id: UUID) -> list[_Fact]:
    """The signatures of an episode and what was struck out, in the order of reception. One statement."""
    rows = Entry.objects.filter(episode=episode_id, kind__in=KINDS).select_related("by", "content", "signature")
    return [_fact(row) for row in rows.order_by("number")]


def _fact(row: Entry) -> _Fact:
    content, signature = getattr(row, "content", None), getattr(row, "signature", None)  # none of what was erased
    by = signature.signer_name if signature else row.by.name
    return _Fact(row.number, row.id, row.kind, row.at, by, orjson.loads(content.body) if content else {})


def _words(one: _Fact, record: Sequence[_Fact], struck: Mapping[str, _Fact], zone: str) -> str:
    """'Stairs up, signed off 27 May 2026, 14:05 by Runa Achterling; withdrawn 3 June 2026, 09:10'."""
    skill = skill_name(one.said) or _("Content erased")
    at = dates.moment_in(one.at, zone)
    words = [_("{skill}, signed off {at} by {name}").format(skill=skill, at=at, name=one.by)]
    gone = [row for row in withdrawing(one, record) if str(row.id) not in struck]
    words += [_("withdrawn {at}").format(at=dates.moment_in(row.at, zone)) for row in gone[:1]]
    if strike := struck.get(str(one.id)):
        words.append(_("struck out {at}").format(at=dates.moment_in(strike.at, zone)))
    return "; ".join(words)
