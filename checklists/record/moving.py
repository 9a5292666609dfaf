"""'Recorded on the wrong person' as one act: struck out there, recorded anew here, or neither."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import orjson
from django.db import transaction
from django.utils.translation import gettext as _

from caseload.episode.models import Episode
from checklists.record import steps
from checklists.record.models import EntryContent, Head
from checklists.record.one import fact
from checklists.record.reception import MOST_AT_ONCE, STAYS, Reception, action_of
from checklists.record.verdict import Recorded
from checklists.words import said
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.audit.models import Origin
from clinic.audit.trail import came_from
from clinic.errors import Invalid
from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Moved:
    """What was done on either side. `ids`: the old id of each entry → its new one."""

    struck: Recorded
    recorded: Recorded
    ids: Mapping[str, str]


@transaction.atomic(durable=True)
def move_entries(
    *, actor: Staff, from_episode: UUID, to_episode: UUID, entry_ids: Sequence[UUID], reason: str
) -> Moved:
    """Take facts from the record of one person and give them to another's, with the reason. Who saw them, and when,
    stays.

    The actor must be allowed to record them on both. Refused as a whole: openings, closings, signatures and
    strike-outs; a review without the falls that it looked at; and whatever the other record does not take.
    """
    at = clock.now()
    if from_episode == to_episode or not reason.strip() or not entry_ids:
        raise Invalid(_("Say which entries go to which other person, and why."), reasons=["reason: is missing"])
    if len(entry_ids) > MOST_AT_ONCE:
        raise Invalid(
            _("Move {most_at_once:,} entries at a time at most.").format(most_at_once=MOST_AT_ONCE),
            code="too_many_entries",
        )
    episodes = {
        pk: access.get(actor, Action.RECORD, Episode.objects.all(), at=at, pk=pk) for pk in (from_episode, to_episode)
    }
    list(Head.objects.select_for_update(no_key=True).filter(episode__in=episodes).order_by("episode_id"))
    contents = _contents(episodes[from_episode], entry_ids)
    for action, pk in {(action_of(content), pk) for content in contents for pk in episodes}:
        access.get(actor, action, Episode.objects.all(), at=at, pk=pk)
    new, ids = _anew(contents, episodes[to_episode], reason.strip())
    strikes = [
        fact("struck_out", at, entry=content["id"], reason=f"Recorded on the wrong person: {reason.strip()}"[:4_000])
        for content in contents
    ]
    moved = Moved(
        struck=_all(actor, from_episode, strikes, at),
        recorded=_all(actor, to_episode, new, at, released=True),
        ids=ids,
    )
    detail = {"entries": list(ids)}  # the reason stands in the record, where it can be erased; no row of the trail can
    trail.record(
        actor, "entries.moved", "episode", episodes[from_episode].reference, at=at, episode=from_episode, detail=detail
    )
    return moved


def _contents(episode: Episode, entry_ids: Sequence[UUID]) -> list[dict[str, Any]]:
    rows = EntryContent.objects.filter(entry__episode=episode)
    everything = {content["id"]: content for content in map(orjson.loads, rows.values_list("body", flat=True))}
    struck = {content["entry"] for content in everything.values() if content["kind"] == "struck_out"}
    wanted = [everything.get(str(one)) for one in entry_ids]
    found = [content for content in wanted if content is not None and content["id"] not in struck]
    if len(found) != len(wanted):
        raise Invalid(
            _("Some of these entries are not here, or are struck out already."), reasons=["entries: not here"]
        )
    fixed = sorted({content["kind"] for content in found if content["kind"] in STAYS})
    if fixed:
        raise Invalid(
            _("These belong to the person they were made for: {fixed}.").format(fixed=", ".join(fixed)),
            reasons=["kind: stays"],
        )
    ids = {content["id"] for content in found}
    if any(set(content.get("of", ())) - ids for content in found if content["kind"] == "review"):
        raise Invalid(_("Move a review together with the falls that it looked at."), reasons=["of: stays behind"])
    return found


def _anew(
    contents: Sequence[dict[str, Any]], episode: Episode, reason: str
) -> tuple[list[dict[str, Any]], dict[str, str]]:
    """The same facts for another episode, under new ids and with a note."""
    ids = {content["id"]: str(uuid4()) for content in contents}
    said = f"Recorded on the wrong person first: {reason}"
    new = []
    for content in contents:
        note = f"{content['note']} · {said}" if "note" in content else said
        changed: dict[str, Any] = {"id": ids[content["id"]], "episode": episode.reference, "note": note[:4_000]}
        if content["kind"] == "review" and content.get("of"):
            changed["of"] = [ids[one] for one in content["of"]]
        new.append({**content, **changed})
    return new, ids


def _all(
    actor: Staff, episode_id: UUID, entries: Sequence[dict[str, Any]], at: datetime, *, released: bool = False
) -> Recorded:
    """Write them all, or refuse the whole act with the reasons."""
    reception = Reception(actor, at, Origin(came_from().door), by_service=not released, released=released)
    recorded = steps.receive(reception, episode_id, entries)
    errors = [verdict.error or "" for verdict in recorded.verdicts if verdict.outcome != "accepted"]
    if errors:
        raise Invalid(_("Nothing was moved: ") + " ".join(map(said, errors)), reasons=errors)
    return recorded
