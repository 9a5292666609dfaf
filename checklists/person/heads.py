"""Where episodes stand now: the fold from its snapshot, and the board row with the names of who signed and saw."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

import orjson

from caseload.words import day_words
from checklists.domain import Episode as Fold
from checklists.domain import Protocol
from checklists.pictures import Tread, treads
from checklists.record import board, fold, protocols
from checklists.record.models import Head
from clinic import clock
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Standing:
    """Where an episode stands: its protocol and its board row. `names`: staff references → names; `head`: what the
    core is asked of, for what no row says."""

    protocol: Protocol
    board: Mapping[str, Any]
    names: Mapping[str, str]
    head: Head | None = None

    def treads(self, *, both: bool) -> list[Tread]:
        """The treads of its staircase, with names in the reasons."""
        return treads(self.protocol.document, self.skills, both=both)

    @property
    def skills(self) -> dict[str, dict[str, Any]]:
        """Every skill's status; whoever signed is named, not referred to."""
        return {key: self._named(said) for key, said in self.board.get("skills", {}).items()}

    def _named(self, said: Mapping[str, Any]) -> dict[str, Any]:
        signer = said.get("signed_by") or ""
        name = self.names.get(signer, signer)
        reasons = [_ISO_DAY.sub(_in_words, reason) for reason in said["reasons"]]
        return {**said, "reasons": [reason.replace(f" by {signer}", f" by {name}") for reason in reasons]}


_ISO_DAY = re.compile(r"\b\d{4}-\d\d-\d\d\b")


def _in_words(found: re.Match[str]) -> str:
    try:
        return day_words(date.fromisoformat(found[0]))
    except ValueError:
        return found[0]  # a number in somebody's words that only looks like a date


def fold_of(head: Head) -> Fold:
    """The fold of an episode as its head stands; from the start only where no snapshot can be taken up."""
    protocol = protocols.loaded(head.protocol_id)
    stored = partial(fold.stored, protocol, head.episode_id)
    return fold.restore(protocol, bytes(head.snapshot), head.episode.reference, stored)


def row_of(head: Head, at: datetime) -> Mapping[str, Any]:
    """The board row made anew for an instant, as the site's calendar has it."""
    local = at.astimezone(ZoneInfo(head.episode.site.time_zone))
    row: Mapping[str, Any] = orjson.loads(board.of(fold_of(head), local).body)
    return row


def standings(episodes: Iterable[UUID], *, at: datetime) -> dict[UUID, Standing]:
    """Where each episode stands. Two statements.

    A row from another day, or past the instant at which time alone changes it, is made anew from its snapshot: a gap,
    and what must be checked first, follow the calendar.
    """
    heads = list(Head.objects.filter(episode__in=list(episodes)).select_related("episode__site"))
    rows = {head: head.board if _holds(head, at) else row_of(head, at) for head in heads}
    names = names_in(rows.values())
    return {
        head.episode_id: Standing(protocols.loaded(head.protocol_id), row, names, head) for head, row in rows.items()
    }


def _holds(head: Head, at: datetime) -> bool:
    made = head.board.get("as_of")
    if made is None or (head.stale_at is not None and head.stale_at <= at):
        return False
    zone = head.episode.site.time_zone
    return clock.local_day(datetime.fromisoformat(made), zone) == clock.local_day(at, zone)


def names_in(rows: Iterable[Mapping[str, Any]], more: Iterable[str] = ()) -> dict[str, str]:
    """The names of everybody to whom board rows refer."""
    wanted = set(more)
    for row in rows:
        wanted |= {knee["by"] for knee in row.get("knees", ()) if knee["by"]}
        for said in row.get("skills", {}).values():
            wanted |= {by for _, by in said["proven_rungs"].values()}
            wanted |= {said["signed_by"]} if said["signed_by"] else set()
    return dict(Staff.objects.filter(reference__in=wanted).values_list("reference", "name"))
