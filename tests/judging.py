"""A tablet that judges by itself, for tests: honest, or not."""

from __future__ import annotations

from typing import Any

from caseload.models import Episode
from checklists.domain import parse_entry
from checklists.judged.again import raised
from checklists.judged.models import Difference
from checklists.models import Entry
from checklists.record import protocols
from checklists.record.fold import stored
from checklists.record.services import record_entries
from checklists.record.verdict import Recorded
from clinic.outbox.drain import drain
from clinic.staff.models import Staff
from tests.makers import ago, an_attempt

BREAKS = {"skill": "stair_down", "support": "ipsilateral_rail"}


def last(episode: Episode) -> int:
    """The number up to which a tablet knows the record."""
    return Entry.objects.filter(episode=episode).order_by("-number").values_list("number", flat=True)[0]


def honest(therapist: Staff, episode: Episode, *facts: dict[str, Any]) -> dict[str, Any]:
    """What a tablet that knows the whole record says of these."""
    protocol = protocols.loaded(episode.head.protocol_id)
    record = stored(protocol, episode.pk)
    after = last(episode)
    before: list[str] = []
    claims: dict[str, Any] = {}
    stamped = {"by": therapist.reference, "role": "therapist", "episode": episode.reference}
    record += [parse_entry({**fact, **stamped}, protocol) for fact in facts]
    for entry, alerts in raised(protocol, episode.reference, record, len(record) - len(facts)):
        claims[entry.id] = {"after": after, "with": list(before), "alerts": sorted(map(list, alerts)), "core": "1"}
        before.append(entry.id)
    return claims


def sent(therapist: Staff, episode: Episode, *facts: dict[str, Any], judged: object) -> Recorded:
    """Recorded, with what the tablet had said; and the worker has done what there was to do."""
    said = record_entries(actor=therapist, episode_id=episode.pk, entries=facts, judged=judged)
    drain()
    return said


def a_case(therapist: Staff, episode: Episode) -> Difference:
    fact = an_attempt(**BREAKS, at=ago(minutes=1), despite="She asked for it")
    claims = honest(therapist, episode, fact)
    claims[fact["id"]]["alerts"] = []
    sent(therapist, episode, fact, judged=claims)
    return Difference.objects.get()
