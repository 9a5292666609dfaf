"""The quick half of judging again, on the way in: entries of which the server said otherwise go to the worker.

It costs no statement: what the server's own step said of each entry is at hand, and where the two agree nothing is left
to ask. Where they do not, or where the record was folded from the start, whether they could have agreed takes the whole
record to find out, and that is left to services.py.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID

from checklists.judged.claims import Claim
from clinic.outbox import post
from clinic.outbox.models import OutboxRow

TOPIC = "judgement.doubted"
Said = Mapping[str, frozenset[tuple[str, str, str]]]


def doubted(
    claims: Mapping[str, Claim], said: Said, taken: Sequence[str], *, episode_id: UUID, sender_id: UUID, at: datetime
) -> list[OutboxRow]:
    """News for the worker, where something was claimed about entries that were `taken` of which the server did not say
    the same (`said`: entry → alerts; an entry that was no step by itself is not among them)."""
    doubts = [one for one in taken if one in claims and said.get(one) != claims[one].alerts]
    if not doubts:
        return []
    told = {one: claims[one].told() for one in doubts}
    news = {"episode": str(episode_id), "sender": str(sender_id), "judged": told}
    return [post.row(TOPIC, news, at=at, dedupe_key=f"{TOPIC}:{doubts[0]}")]
