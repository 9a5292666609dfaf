"""From what follows now to the rows that change: alerts raised and withdrawn, deadlines set and met, news for the
outbox."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import cache

from checklists import domain
from checklists.alerts.models import Alert, Severity
from checklists.alerts.rules import UNAUTHORISED_SIGN_OFF, words_of
from checklists.domain.instant import at_microseconds, read
from checklists.record.fold import Break, Deadlines, Folded, Identity
from checklists.record.judging import Sound
from checklists.record.reception import Reception
from checklists.record.verdict import Raised
from checklists.record.writing import AlertRow, Changes, DeadlineRow
from checklists.signoff.authority import lacking
from clinic.outbox import post


def plan(
    changes: Changes, reception: Reception, folded: Folded, sounds: Sequence[Sound]
) -> tuple[list[Raised], list[Raised]]:
    """Fill in what changes about alerts and deadlines; return those raised and those withdrawn, in words."""
    came = {sound.entry.id: sound for sound in sounds}
    last = sounds[-1].entry.id
    standing = _standing(changes) if folded.replayed or folded.met else {}
    new = [one for one in folded.breaks if one.identity not in standing]
    lost = _lost(folded, standing)
    changes.raised = [_row(one, came, last) for one in new]
    changes.raised += _unauthorised(reception, folded.episode.protocol, sounds)
    changes.gone = lost
    after = folded.after
    changes.due = [_due(one) for identity, one in after.items() if identity not in folded.before]
    changes.met = list(folded.met) + _closed(lost, folded, after)
    _announce(changes, reception.at, came, standing)
    return _told(folded, changes.raised), _told(folded, _withdrawn(lost, standing))


def _standing(changes: Changes) -> dict[Identity, tuple[str, bool, datetime]]:
    """The open alerts of the episode: identity → severity, by rule, when it happened. Asked only if need be."""
    rows = Alert.objects.filter(episode_id=changes.episode_id, open=True)
    return {
        (rule, str(entry)): (severity, by_rule, happened_at)
        for rule, entry, severity, by_rule, happened_at in rows.values_list(
            "rule", "entry", "severity", "by_rule", "happened_at"
        )
    }


def _lost(folded: Folded, standing: dict[Identity, tuple[str, bool, datetime]]) -> dict[Identity, str]:
    """What no longer follows → the entry with whose arrival it went."""
    if not folded.replayed:
        return {one: entry for one, entry in folded.met.items() if one in standing}  # reported by the worker meanwhile
    follows = {one.identity for one in folded.breaks}
    lost = [identity for identity, (_, by_rule, _) in standing.items() if by_rule and identity not in follows]
    return folded.gone_with(lost) | _struck_signatures(folded, standing)


def _closed(lost: dict[Identity, str], folded: Folded, after: Deadlines) -> list[Identity]:
    """Deadlines that a later fact had shown to be missed before the scan came by, and that were not missed after all:
    left open, the scan would report them."""
    return [one for one in lost if one not in after and one not in folded.met]


def _struck_signatures(folded: Folded, standing: dict[Identity, tuple[str, bool, datetime]]) -> dict[Identity, str]:
    """A sign-off without authority that is struck out need not be asked about any more."""
    strikes = {entry.get("entry"): entry.id for entry in folded.record or () if entry.kind == "struck_out"}
    return {
        identity: strikes[identity[1]]
        for identity in standing
        if identity[0] == UNAUTHORISED_SIGN_OFF and identity[1] in folded.struck and identity[1] in strikes
    }


def _row(one: Break, came: dict[str, Sound], last: str) -> AlertRow:
    return AlertRow(one.rule, one.entry, one.severity, one.at, one.entry if one.entry in came else last)


def _unauthorised(reception: Reception, protocol: domain.Protocol, sounds: Sequence[Sound]) -> list[AlertRow]:
    """History stands, but a signature that its giver had no authority for is asked about."""
    if not reception.imported:
        return []
    ask = cache(lambda staff, skill, day: lacking(staff, protocol, skill, day))
    return [
        AlertRow(UNAUTHORISED_SIGN_OFF, sound.entry.id, Severity.CRITICAL, sound.at, sound.entry.id, by_rule=False)
        for sound in sounds
        if sound.entry.kind == "sign_off" and ask(sound.author.staff, sound.entry.get("skill"), sound.at.date())
    ]


def _due(one: domain.Deadline) -> DeadlineRow:
    return DeadlineRow(one.rule, one.entry, _instant(one.at), at_microseconds(one.due_us), one.severity)


def _instant(text: str) -> datetime:
    return at_microseconds(read(text)[0])


def _announce(
    changes: Changes, at: datetime, came: dict[str, Sound], standing: dict[Identity, tuple[str, bool, datetime]]
) -> None:
    """News of what was raised, and to the lead of a critical alert that somebody struck away."""
    episode, key = str(changes.episode_id), next(iter(came))
    if changes.raised:
        news = {"episode": episode, "alerts": [[row.rule, row.entry] for row in changes.raised]}
        changes.outbox.append(post.row("alert.raised", news, at=at, dedupe_key=f"alert.raised:{key}"))
    struck = [
        list(identity)
        for identity, entry in changes.gone.items()
        if came[entry].entry.kind == "struck_out"
        and identity in standing
        and standing[identity][0] == Severity.CRITICAL
    ]
    if struck:
        news = {"episode": episode, "alerts": struck}
        changes.outbox.append(post.row("alert.struck_away", news, at=at, dedupe_key=f"alert.struck_away:{key}"))


def _withdrawn(lost: dict[Identity, str], standing: dict[Identity, tuple[str, bool, datetime]]) -> list[AlertRow]:
    return [
        AlertRow(rule, entry, *(standing[rule, entry][0], standing[rule, entry][2], with_entry))
        for (rule, entry), with_entry in lost.items()
        if (rule, entry) in standing
    ]


def _told(folded: Folded, rows: Sequence[AlertRow]) -> list[Raised]:
    protocol = folded.episode.protocol
    return [Raised(row.rule, row.entry, row.severity, *words_of(protocol, row.rule), row.happened_at) for row in rows]
