"""The inner step of the one write path: permit, lock, check, append, fold, project, raise and withdraw, account,
announce.

It opens no transaction: services that write a fact together with something else call it inside theirs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from functools import partial
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from checklists.adoption import steps as adoption
from checklists.domain import Entry, Episode
from checklists.domain.entry_check import UUID as UUID_TEXT
from checklists.judged.steps import doubted
from checklists.record import alerting, board, fold, projection, protocols, setting_aside
from checklists.record.judging import Author, Judge, Judged
from checklists.record.lock import UNSEEN, Locked, Terms, lock, taken
from checklists.record.reception import Reception
from checklists.record.reviews import follow_reviews
from checklists.record.verdict import Raised, Recorded
from checklists.record.visits import follow_visits
from checklists.record.writing import Changes, write
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import NotFound
from clinic.outbox.wake import wake_after_commit
from clinic.staff.models import RoleTerm, Staff


def receive(
    reception: Reception, episode_id: UUID, entries: Sequence[object], *, closing: ExitStack | None = None
) -> Recorded:
    """Take what one call brings into the record of one episode, entry by entry, and everything that follows from it.

    `closing`, from a caller that commits next: the last statement then travels together with the commit. Such a caller
    tries again without it where an id stands in an episode that the sender does not see: only then is that looked up.
    """
    own = _ids(entries, "id")
    elsewhere = taken(own) if closing is None else ()
    asked = [*own, *_ids(entries, "entry")]
    locked = lock(reception.actor, episode_id, asked, own, len(entries), elsewhere=elsewhere)
    protocol = protocols.loaded(locked.protocol_id)
    stored = partial(fold.stored, protocol, episode_id)
    episode = fold.restore(protocol, locked.snapshot, locked.reference, stored)
    judge = Judge(reception, locked, protocol, _authors(reception, locked, entries), both=episode.both)
    judged = [judge.judge(entry) for entry in entries]
    _unless_a_stranger(reception, locked, judge)
    adoption.require(locked.protocol_id)
    changes, raised, withdrawn = _changes(reception, locked, episode, judged, stored)
    setting_aside.keep(reception, locked, entries, judged)
    if changes is not None:
        came = [sound.entry for sound in changes.sounds]
        follow_reviews(reception, locked, came, waits=changes.fall_waits)
        follow_visits(reception, locked, came)
        write(changes, reception, closing)
        if changes.outbox:
            wake_after_commit()
    told = [one.told() for one in raised]
    for one in judged:
        one.verdict.alerts = [alert for alert in told if alert["entry"] == one.verdict.id]
    return Recorded([one.verdict for one in judged], raised, withdrawn)


def _changes(
    reception: Reception, locked: Locked, episode: Episode, judged: Sequence[Judged], stored: Callable[[], list[Entry]]
) -> tuple[Changes | None, list[Raised], list[Raised]]:
    """Fold the entries that are sound by themselves: what to write, and the alerts that this raises and withdraws."""
    sounds = [one.sound for one in judged if one.sound is not None]
    if not sounds:
        return None, [], []
    came = [sound.entry for sound in sounds]
    folded = fold.fold(episode, came, stored, reception.at)
    _refused_by_others(judged, folded.refused)
    shown = board.of(folded.episode, reception.at.astimezone(ZoneInfo(locked.time_zone)))
    changes = Changes(
        episode_id=locked.episode_id,
        sounds=sounds,
        numbers=locked.numbers[: len(sounds)],
        snapshot=folded.episode.snapshot(),
        board=shown.body,
        stale_at=shown.stale_at,
        last_at=max([sound.at for sound in sounds] + ([locked.last_at] if locked.last_at else [])),
        trail=_trail(reception, locked, came),
        fall_waits=bool(folded.episode.fold.open_falls),
        projection=projection.changed(came, lambda: folded.record or [*stored(), *came]),
    )
    raised, withdrawn = alerting.plan(changes, reception, folded, sounds)
    if reception.judged:
        changes.outbox += doubted(
            reception.judged,
            folded.said,
            [entry.id for entry in came],
            episode_id=locked.episode_id,
            sender_id=reception.actor.pk,
            at=reception.at,
        )
    return changes, raised, withdrawn


def _trail(reception: Reception, locked: Locked, came: Sequence[Entry]) -> trail.Row:
    return trail.row(
        reception.actor,
        "entries.recorded",
        "episode",
        locked.reference,
        at=reception.at,
        episode=locked.episode_id,
        number=locked.trail_number,
        detail={"entries": [entry.id for entry in came]},
    )


def _ids(entries: Sequence[object], name: str) -> list[str]:
    """The ids that could be taken already ("id"), or that are struck out ("entry"); what is no UUID is refused
    later."""
    found = (entry.get(name) for entry in entries if isinstance(entry, Mapping))
    return [one for one in found if isinstance(one, str) and UUID_TEXT.fullmatch(one)]


def _authors(reception: Reception, locked: Locked, entries: Sequence[object]) -> dict[str, Author]:
    """Who may have written these: the sender, and in a history everybody whom it names."""
    actor = reception.actor
    found = {actor.reference: Author(actor, locked.terms)}
    if not reception.as_history:
        return found
    named = {by for entry in entries if isinstance(entry, Mapping) and isinstance(by := entry.get("by"), str)}
    staff = {one.pk: one for one in Staff.objects.filter(reference__in=named - found.keys())}
    terms: dict[UUID, list[Any]] = {pk: [] for pk in staff}
    for row in RoleTerm.objects.filter(staff__in=staff):
        terms[row.staff_id].append((row.role, row.period.lower, row.period.upper))
    return found | {one.reference: Author(one, Terms.of(terms[pk])) for pk, one in staff.items()}


def _unless_a_stranger(reception: Reception, locked: Locked, judge: Judge) -> None:
    """Who can neither see this person now, nor could when anything of this happened, nor has ever carried or covered
    them, learns nothing, not even that they exist. What a former therapist saw is kept for the lead, not lost."""
    known = reception.as_history or reception.by_service or judge.reached or locked.carried_before(reception.at)
    if not known and not locked.may(Action.SEE_PERSON, reception.at):
        raise NotFound(UNSEEN)


def _refused_by_others(judged: Sequence[Judged], refused: Mapping[str, str]) -> None:
    """Stored all the same, since a later fact may change that; the sender hears that it has no effect now."""
    for one in judged:
        if one.sound is not None and one.sound.entry.id in refused:
            one.verdict.outcome, one.verdict.error = "refused", refused[one.sound.entry.id]
