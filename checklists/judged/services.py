"""Judging again, the slow half: the worker takes the whole record and finds out whether the two cores differ."""

from __future__ import annotations

import hashlib
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import F

from checklists.domain import Entry
from checklists.judged.again import raised
from checklists.judged.claims import Alert, Claim, claim
from checklists.judged.models import Difference, Outcome, Tally
from checklists.record import protocols
from checklists.record.fold import read_bodies
from checklists.record.models import EntryContent, Head
from clinic.audit import trail
from clinic.watch.alarms import raise_alarm

ALARM = "judgement.differed"
SAID = (
    "A tablet and this server judged the same record differently: the safety core has a defect. What stands in the "
    "record is the server's judgement. Open 'Judged differently', take the case out and send it to whoever looks after "
    "the programme; until it is mended, read the server's alerts rather than the tablet's advice."
)


@dataclass(frozen=True, slots=True)
class _Record:
    """The entries of an episode in the order of reception: numbers, ids and bodies side by side."""

    numbers: Sequence[int]
    ids: Sequence[str]
    bodies: Sequence[str]

    @classmethod
    def of(cls, episode_id: UUID) -> _Record:
        rows = EntryContent.objects.filter(entry__episode=episode_id).order_by("entry__number")
        found = list(rows.values_list("entry__number", "entry_id", "body"))
        return cls([one[0] for one in found], [str(one[1]) for one in found], [one[2] for one in found])

    def history(self, most: int) -> str:
        """SHA-256 of the lines of the first so many."""
        return history_digest(body.encode() for body in self.bodies[:most])


def history_digest(lines: Iterable[bytes]) -> str:
    """SHA-256 of lines, each with its line feed."""
    return hashlib.sha256(b"".join(line + b"\n" for line in lines)).hexdigest()


def judge_again(payload: Mapping[str, Any], at: datetime) -> None:
    """What the quick half could not settle (steps.doubted): for each entry whether the record here, at its arrival, was
    the very one that the tablet had judged, and if so whether both say the same.

    It was when the facts of the episode after `after` and before the entry are exactly those in `with`, in that order
    and under the same roles: everything up to `after` is the same by being append-only. Any other record is not
    compared, only counted: another tablet's facts had come in between, or one of `with` was not taken, or the sender's
    role has changed since the tablet heard of it.
    """
    episode_id = UUID(payload["episode"])
    claims = {name: claim(one) for name, one in payload["judged"].items()}
    head = Head.objects.select_related("episode", "protocol").filter(episode=episode_id).first()
    record = _Record.of(episode_id) if head is not None else None
    wanted = [place for place, name in enumerate(record.ids) if name in claims] if record else []
    if head is None or record is None or not wanted:  # erased meanwhile
        return
    protocol = protocols.loaded(head.protocol_id)
    entries = read_bodies(protocol, record.bodies[: wanted[-1] + 1])
    said = {entry.id: new for entry, new in raised(protocol, head.episode.reference, entries, wanted[0])}
    found = [(place, claims[record.ids[place]], said[record.ids[place]]) for place in wanted]
    with transaction.atomic():
        for place, claimed, alerts in found:
            outcome = _outcome(record, entries, place, claimed, alerts)
            _count(outcome, at)
            if outcome is Outcome.DIFFERENT:
                _keep(head, record, place, claimed, alerts, UUID(payload["sender"]), at)


def _outcome(
    record: _Record, entries: Sequence[Entry], place: int, claimed: Claim, alerts: frozenset[Alert]
) -> Outcome:
    first = bisect_right(record.numbers, claimed.after)
    if first > place or tuple(record.ids[first:place]) != claimed.before:
        return Outcome.OTHER_RECORD
    if claimed.roles is not None and claimed.roles != tuple(one.get("role") for one in entries[first : place + 1]):
        return Outcome.OTHER_RECORD
    return Outcome.SAME if alerts == claimed.alerts else Outcome.DIFFERENT


def _count(outcome: Outcome, at: datetime) -> None:
    tally, _ = Tally.objects.get_or_create(day=at.date(), outcome=outcome)
    Tally.objects.filter(pk=tally.pk).update(many=F("many") + 1)


def _keep(
    head: Head,
    record: _Record,
    place: int,
    claimed: Claim,
    alerts: frozenset[Alert],
    sender: UUID,
    at: datetime,
) -> None:
    """Save the case once, account for it, and raise the alarm."""
    case = Difference(
        episode=head.episode,
        entry=UUID(record.ids[place]),
        number=record.numbers[place],
        claimed=claimed.told(),
        found=[list(one) for one in sorted(alerts)],
        core=claimed.core,
        protocol=head.protocol,
        digest=head.protocol.digest,
        history=record.history(place + 1),
        sender_id=sender,
        found_at=at,
    )
    Difference.objects.bulk_create([case], ignore_conflicts=True)
    if not Difference.objects.filter(pk=case.pk).exists():
        return
    trail.record(
        None,
        "judgement.differed",
        "difference",
        case.pk,
        at=at,
        episode=head.episode_id,
        detail={"entry": str(case.entry)},
    )
    raise_alarm(ALARM, SAID, at=at, key=ALARM)
