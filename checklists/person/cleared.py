"""What a person is cleared to do and how, in plain words for them to take home.

Cleared is what is signed off and current, and no more than that: a skill that must be proven again is listed among
those to leave until the clinic has seen it. Words and cautions: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from caseload.episode.selectors import Plan, plan
from checklists.person.heads import Standing
from checklists.person.selectors import standing_of
from checklists.signoff.selectors import Printed
from checklists.signoff.selectors import standing_of as signed_skills
from clinic import access, clock
from clinic.access import Action
from clinic.staff.models import Staff

SUPPORT = {
    "bars_both": "only in the clinic’s parallel bars, holding on with both hands",
    "bars_one": "only in the clinic’s parallel bars, holding on with one hand",
    "both_rails": "holding both rails",
    "one_rail": "holding one rail",
    "contralateral_rail": "holding the rail with your {other} hand",
    "ipsilateral_rail": "holding a rail; your {side} hand will do",
    "stick": "with a stick",
    "none": "without holding on",
}
BARS = ("bars_both", "bars_one")
OTHER = {"left": "right", "right": "left"}
CAUTIONS = (
    "Before each walk: skin without marks or wounds, prosthesis on as you were shown, the shoes it was set up for, "
    "knee in walking mode.",
    "If the knee behaves in a way that is new to you, sit down. Do not walk on it. Ring the clinic.",
    "After any change to the knee, socket, foot or shoes this page no longer holds until the clinic has seen you walk.",
    "If you fall or nearly fall, tell the clinic the same day, even when nothing hurts.",
)
LOCK = "If you used the lock: release it, and with a hand on a rail see that the knee bends before your first step."
FREE_SWING = (
    "Free swing is for the bicycle only. Before you leave the saddle set the knee to walking, then load it with a hand "
    "on a rail. Left on, the knee folds."
)


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to do, and how."""

    title: str
    how: str
    until: date | None
    signed: Printed | None = None


@dataclass(frozen=True, slots=True)
class Cleared:
    """The page."""

    plan: Plan
    day: date
    alone: Sequence[Item]
    with_us: Sequence[str]
    not_now: Sequence[str]
    cautions: Sequence[str]


def cleared(actor: Staff, episode_id: UUID, *, at: datetime) -> Cleared:
    """The page for one person. Denied or NotFound where it is not the actor's to print."""
    head = plan(actor, episode_id, at=at)
    access.permit(actor, Action.PRINT_PERSON, at)
    signed = signed_skills(episode_id)
    return page_of(head, standing_of(episode_id, at=at), clock.local_day(at, head.zone), signed)


def page_of(head: Plan, standing: Standing, day: date, signed: Mapping[str, Printed] | None = None) -> Cleared:
    """Sort the skills: cleared alone, only with us, not now. What does not apply to this knee is left out."""
    alone, with_us, not_now = [], [], []
    for skill in standing.protocol.document["skills"]:
        said = standing.board["skills"][skill["key"]]
        if said["status"] == "signed_off":
            reach = _reach(skill, both=head.side == "both")
            if reach in BARS:
                with_us.append(_plain(skill))
            else:
                signature = (signed or {}).get(skill["key"])
                alone.append(Item(_plain(skill), _how(reach, head.side), _until(said), signature))
        elif said["status"] in ("suspended", "lapsed"):
            not_now.append(_plain(skill))
        elif said["status"] in ("training", "ready"):
            with_us.append(_plain(skill))
    return Cleared(head, day, alone, with_us, not_now, _cautions(head.features))


def _plain(skill: Mapping[str, Any]) -> str:
    title: str = skill["title"]
    return title[0].upper() + title[1:]


def _reach(skill: Mapping[str, Any], *, both: bool) -> str:
    """The rung as far as which a sign-off reaches: that of the last stage (SEMANTICS.md §4)."""
    proven = ((skill.get("both") or {}).get("proven") if both else None) or skill["proven"]
    support: str = proven["stages"][-1]["support"] if "stages" in proven else proven["support"]
    return support


def _how(reach: str, side: str) -> str:
    words = SUPPORT.get(reach, reach.replace("_", " "))
    return words.format(side=side, other=OTHER.get(side, "other"))


def _until(said: Mapping[str, Any]) -> date | None:
    return datetime.fromisoformat(said["lapses_at"]).date() if said["lapses_at"] else None


def _cautions(features: Sequence[str]) -> list[str]:
    more = [LOCK] if "lock" in features else []
    return [*CAUTIONS, *more, *([FREE_SWING] if "free_swing" in features else [])]
