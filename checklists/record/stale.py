"""Board rows that the passing of time alone has made wrong, worked out anew."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from zoneinfo import ZoneInfo

import orjson
from django.db import transaction

from checklists.record import board, fold, protocols
from checklists.record.models import Head

AT_ONCE = 50


def refresh_stale_boards(at: datetime) -> int:
    """Bring every board row up to date whose time has come; returns how many. One that is just being written is
    left."""
    done = 0
    while some := _refresh_some(at):
        done += some
    return done


@transaction.atomic
def _refresh_some(at: datetime) -> int:
    rows = Head.objects.filter(stale_at__lte=at).order_by("stale_at").select_related("episode__site")
    heads = list(rows.select_for_update(no_key=True, skip_locked=True, of=("self",))[:AT_ONCE])
    for head in heads:
        refresh(head, at)
    return len(heads)


def refresh(head: Head, at: datetime) -> None:
    """Work one board row out as of an instant; the caller holds its lock."""
    protocol = protocols.loaded(head.protocol_id)
    stored = partial(fold.stored, protocol, head.episode_id)
    episode = fold.restore(protocol, bytes(head.snapshot), head.episode.reference, stored)
    shown = board.of(episode, at.astimezone(ZoneInfo(head.episode.site.time_zone)))
    Head.objects.filter(pk=head.pk).update(board=orjson.loads(shown.body), stale_at=shown.stale_at)
