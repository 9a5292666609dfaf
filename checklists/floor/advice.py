"""Advice before the fact: what would happen if this skill were tried now, on every rung and with every help of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from caseload.models import Episode
from checklists.domain import EntryRefused, parse_entry
from checklists.domain import Episode as Fold
from checklists.floor.config import protocol_part
from checklists.person.heads import fold_of
from clinic.errors import Invalid
from clinic.staff.models import Staff


def advice_for(
    episode: Episode, actor: Staff, skill: object, pending: object, *, at: datetime
) -> dict[str, dict[str, dict[str, Any]]]:
    """{rung: {help: {allowed, breaks, counted}}} for one skill. `pending`: facts that the record does not have yet."""
    state = fold_of(episode.head)
    part = protocol_part(state.protocol.document, episode.side)
    found = next((each for each in part["skills"] if each["key"] == skill), None)
    if found is None:
        raise Invalid(f"There is no skill {skill!r} in this protocol.")
    if isinstance(pending, Sequence):
        carry_on(state, pending, actor, episode, at)
    role, local = actor.stamped_role(at.date()), at.astimezone(ZoneInfo(episode.site.time_zone))
    return on_every_rung(state, found, part["help"], local, role)


def on_every_rung(
    state: Fold, skill: Mapping[str, Any], helps: Sequence[str], local: datetime, role: str | None
) -> dict[str, dict[str, dict[str, Any]]]:
    """{rung: {help: {allowed, breaks, counted}}} for one skill of `protocol_part`.

    `local`: the instant by the site's clocks.
    """
    return {
        rung: {help_: on_one(state, skill["key"], rung, help_, local, role) for help_ in helps}
        for rung in skill["rungs"]
    }


def carry_on(state: Fold, pending: Sequence[object], actor: Staff, episode: Episode, at: datetime) -> None:
    """Fold facts that are not recorded yet, as far as they can be taken one after the other."""
    stamped = {"by": actor.reference, "episode": episode.reference}
    for fact in pending:
        if not isinstance(fact, Mapping):
            continue
        try:
            entry = parse_entry({**fact, **stamped}, state.protocol, now=at)
        except EntryRefused:
            continue
        if state.takes(entry):
            state.append(entry)


def on_one(state: Fold, skill: str, rung: str, help_: str, at: datetime, role: str | None) -> dict[str, Any]:
    """{allowed, breaks, counted} for one skill on one rung with one help."""
    advice = state.advise({"skill": skill, "support": rung, "help": help_}, at=at, role=role)
    breaks = [broken._asdict() for broken in advice.breaks]
    counted = advice.counted._asdict() if advice.counted else None
    return {"allowed": advice.allowed, "breaks": breaks, "counted": counted}
