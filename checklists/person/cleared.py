"""What a person is cleared to do and how, in plain words for them to take home.

Cleared is what is signed off and current, and never more than the core advises today: a sign-off stands after an
unsafe attempt, say, while its advice goes back to the bars. What must be proven again, or is advised against now, is
listed among those to leave until the clinic has seen it. Words and cautions: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext_lazy, gettext_noop

from caseload.episode.selectors import Plan, plan
from caseload.words import listed, may_have
from checklists.paper.limits import advised_today
from checklists.person.heads import Standing
from checklists.person.left_open import left_open
from checklists.person.selectors import standing_of
from checklists.person.tongue import Tongue, tongue_of
from checklists.pictures.names import short
from checklists.pictures.tread import reach
from checklists.pictures.words import WORDS
from checklists.signoff.selectors import Printed
from checklists.signoff.selectors import standing_of as signed_skills
from checklists.words import Spoken, said
from clinic import access, clock
from clinic.access import Action
from clinic.language import tags
from clinic.staff.models import Staff

SUPPORT = Spoken(
    {
        "bars_both": gettext_noop("only in the clinic’s parallel bars, holding on with both hands"),
        "bars_one": gettext_noop("only in the clinic’s parallel bars, holding on with one hand"),
        "both_rails": gettext_noop("holding both rails"),
        "one_rail": gettext_noop("holding one rail"),
        "stick": gettext_noop("with a stick"),
        "none": gettext_noop("without holding on"),
    }
)
# The rail of a side is said with the hand that holds it: side of the prosthesis → words.
OPPOSITE = Spoken(
    {
        "left": gettext_noop("holding the rail with your right hand"),
        "right": gettext_noop("holding the rail with your left hand"),
    }
)
SAME = Spoken(
    {
        "left": gettext_noop("holding a rail; your left hand will do"),
        "right": gettext_noop("holding a rail; your right hand will do"),
    }
)
BARS = ("bars_both", "bars_one")
CAUTIONS = (
    gettext_lazy(
        "Before each walk: skin without marks or wounds, prosthesis on as you were shown, the shoes it was set up for, "
        "knee in walking mode."
    ),
    gettext_lazy("If the knee behaves in a way that is new to you, sit down. Do not walk on it. Ring the clinic."),
    gettext_lazy(
        "After any change to the knee, socket, foot or shoes this page no longer holds until the clinic has seen you "
        "walk."
    ),
    gettext_lazy("If you fall or nearly fall, tell the clinic the same day, even when nothing hurts."),
)
LOCK = gettext_lazy(
    "If you used the lock: release it, and with a hand on a rail see that the knee bends before your first step."
)
FREE_SWING = gettext_lazy(
    "Free swing is for the bicycle only. Before you leave the saddle set the knee to walking, then load it with a hand "
    "on a rail. Left on, the knee folds."
)
# Said of what the knee has and the person is not cleared for: never what could be read as leave to use it.
NO_LOCK = gettext_lazy(
    "Do not switch the lock on at home: you use it only with us, at the clinic. Should it be on all the same: release "
    "it, and with a hand on a rail see that the knee bends before your first step."
)
NO_FREE_SWING = gettext_lazy(
    "Do not switch free swing on at home: you use it only with us, at the clinic. Should it be on all the same: sit "
    "down, set the knee to walking, then load it with a hand on a rail. Left on, the knee folds."
)
# What a knee may have → what is said to whoever is cleared for it, and to whoever is not.
MODES = {"lock": (LOCK, NO_LOCK), "free_swing": (FREE_SWING, NO_FREE_SWING)}


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to do, and how; `mark`: of its status."""

    title: str
    how: str = ""
    until: date | None = None
    signed: Printed | None = None
    mark: str = "signed_off"


@dataclass(frozen=True, slots=True)
class Cleared:
    """The page."""

    plan: Plan
    day: date
    alone: Sequence[Item]
    with_us: Sequence[Item]
    not_now: Sequence[str]
    cautions: Sequence[str]
    halts: Sequence[str] = ()  # in the reader's language: why whoever gives it should not do so yet


def cleared(actor: Staff, episode_id: UUID, *, at: datetime, mine: bool = False) -> tuple[Cleared, Tongue]:
    """The page for one person, in their language, or in the reader's where it is asked for. Denied or NotFound where
    it is not the actor's to print."""
    head = plan(actor, episode_id, at=at)
    access.permit(actor, Action.PRINT_PERSON, at)
    signed = signed_skills(episode_id)
    standing, tongue = standing_of(episode_id, at=at), tongue_of(head.language, mine=mine)
    held = _held(head, standing, actor, at=at)
    halts = [*left_open(actor, standing, episode_id, at=at), *_told(standing, held)]
    with tags.speaking_to(tongue.code):
        return replace(_page(head, standing, clock.local_day(at, head.zone), signed, held), halts=halts), tongue


def _held(head: Plan, standing: Standing, actor: Staff, *, at: datetime) -> dict[str, tuple[str, ...]]:
    """Signed-off skills whose sign-off reaches further than the core advises alone today → what speaks against it."""
    if standing.head is None:
        return {}
    advised, alone = advised_today(standing.head.episode, actor, at=at), standing.protocol.help[-1]
    found = {}
    for skill in standing.protocol.document["skills"]:
        support = reach(skill, both=head.side == "both")
        if standing.board["skills"][skill["key"]]["status"] == "signed_off" and support not in BARS:
            now = advised.on(skill["key"], support, alone)
            if not now["allowed"]:
                found[skill["key"]] = tuple(f"{one['sentence']} {one['do_first']}" for one in now["breaks"])
    return found


def _told(standing: Standing, held: Mapping[str, tuple[str, ...]]) -> list[str]:
    """In the reader's language, each reason once with the skills that it holds back."""
    skills: dict[str, list[str]] = {}
    for skill in standing.protocol.document["skills"]:
        for why in held.get(skill["key"], ()):
            skills.setdefault(said(why), []).append(short(skill["key"], skill["title"]))
    return [f"{listed(names)}: {why}" for why, names in skills.items()]


def _page(
    head: Plan, standing: Standing, day: date, signed: Mapping[str, Printed], held: Mapping[str, object]
) -> Cleared:
    """Sort the skills: cleared alone, only with us, not now. What does not apply to this knee is left out."""
    alone, with_us, not_now, own = [], [], [], set[str]()
    for skill in standing.protocol.document["skills"]:
        stands = standing.board["skills"][skill["key"]]
        if skill["key"] in held:
            not_now.append(_plain(skill))
        elif stands["status"] == "signed_off":
            support = reach(skill, both=head.side == "both")
            item = Item(_plain(skill), _how(support, head.side), _until(stands), signed.get(skill["key"]))
            if support in BARS:
                with_us.append(item)
            else:
                alone.append(item)
                own.update(skill.get("needs", ()))
        elif stands["status"] in ("suspended", "lapsed"):
            not_now.append(_plain(skill))
        elif stands["status"] in ("training", "ready"):
            with_us.append(Item(_plain(skill), mark="training"))
    return Cleared(head, day, alone, with_us, not_now, _cautions(may_have(head.knee), own))


def _plain(skill: Mapping[str, Any]) -> str:
    title = said(skill["title"])
    return title[0].upper() + title[1:]


def _how(support: str, side: str) -> str:
    if support == "contralateral_rail" and side in OPPOSITE:
        return OPPOSITE[side]
    if support == "ipsilateral_rail" and side in SAME:
        return SAME[side]
    return SUPPORT[support] if support in SUPPORT else WORDS.rung(support)


def _until(stands: Mapping[str, Any]) -> date | None:
    return datetime.fromisoformat(stands["lapses_at"]).date() if stands["lapses_at"] else None


def _cautions(features: Sequence[str], own: Set[str]) -> list[str]:
    """What to take care of, by what the knee has; `own`: of it, what they are cleared to use by themselves."""
    more = [yes if feature in own else no for feature, (yes, no) in MODES.items() if feature in features]
    return [str(one) for one in (*CAUTIONS, *more)]
