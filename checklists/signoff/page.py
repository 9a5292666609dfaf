"""The sign-off page: what stands behind a signature, in words, beside the statement that is signed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.episode.selectors import Plan, plan
from caseload.looked.selectors import WhoTells, who_tells
from checklists.floor import measures
from checklists.person.facts import Told, tell
from checklists.person.heads import standings
from checklists.person.left_open import left_open
from checklists.pictures import names
from checklists.pictures.words import HELP, WORDS
from checklists.signoff.meaning import SIGNING_OFF
from checklists.signoff.selectors import Printed, SignedOn, signatures_of, signed_on
from checklists.signoff.services import Readiness, readiness
from clinic.access import Action
from clinic.staff.models import Staff
from clinic.staff.roles import Role


@dataclass(frozen=True, slots=True)
class Seen:
    """One attempt of the evidence. `since`: it was no part of what the signature that stands was given on."""

    at: datetime
    support: str
    help: str
    result: str
    detail: str
    by: str
    since: bool


@dataclass(frozen=True, slots=True)
class SignOffPage:
    """Everything on the page."""

    plan: Plan
    skill: str
    ready: Readiness
    status: str
    reasons: Sequence[str]
    criterion: Sequence[str]
    prerequisites: Sequence[tuple[str, str]]
    attempts: Sequence[Seen]
    signed_at: datetime | None
    signed_by: str
    lapses_on: date | None
    signatures: Sequence[Printed]
    signed_on: SignedOn | None  # of the newest signature, unless it was a withdrawal
    left_open: Sequence[str]
    proof: WhoTells  # who makes a file of a signature that anybody can check
    meaning: str = str(SIGNING_OFF)

    @property
    def last_signed_on(self) -> Seen | None:
        """The newest attempt of those that the signature was given on."""
        return next((one for one in self.attempts if not one.since), None) if self.signed_on else None

    @property
    def struck_since(self) -> str:
        """How many of them were struck out since, in words; nothing where all stand."""
        if self.signed_on is None:
            return ""
        gone = len(self.signed_on.attempts) - sum(not one.since for one in self.attempts)
        words = ngettext(
            "{n} attempt that it was signed on was struck out since.",
            "{n} attempts that it was signed on were struck out since.",
            gone,
        )
        return words.format(n=gone) if gone else ""

    @property
    def was_stopped(self) -> bool:
        """Whether an attempt was stopped, so that the page says what that does to the row."""
        return any(one.result == "stopped" for one in self.attempts)

    @property
    def signed(self) -> bool:
        """Whether a signature stands, whatever became of it since."""
        return self.signed_at is not None


def sign_off_page(actor: Staff, episode_id: UUID, skill: str, *, at: datetime) -> SignOffPage:
    """Evidence, statement and what is in the way. Denied or NotFound where it is not the actor's to sign."""
    ready = readiness(actor=actor, episode_id=episode_id, skill=skill)
    standing = standings([episode_id], at=at)[episode_id]
    shown, said = ready.evidence.shown, standing.skills[skill]
    signatures = signatures_of(episode_id, skill)
    stands = signed_on(signatures[0]) if signatures and signatures[0].kind == "sign_off" else None
    everybody = dict(
        Staff.objects.filter(reference__in={one["by"] for one in shown["attempts"]}).values_list("reference", "name")
    )
    return SignOffPage(
        plan=plan(actor, episode_id, at=at),
        skill=skill,
        ready=ready,
        status=said["status"],
        reasons=said["reasons"],
        criterion=_criterion(shown["criterion"]),
        prerequisites=[(names.short(key, key), status) for key, status in shown["prerequisites"].items()],
        attempts=[_seen(one, skill, everybody, stands) for one in reversed(shown["attempts"])],
        signed_at=datetime.fromisoformat(said["signed_at"]) if said["signed_at"] else None,
        signed_by=_signed_by(signatures, standing.names.get(said["signed_by"], said["signed_by"] or "")),
        lapses_on=datetime.fromisoformat(said["lapses_at"]).date() if said["lapses_at"] else None,
        signatures=signatures,
        signed_on=stands,
        left_open=left_open(actor, standing, episode_id, at=at),
        proof=who_tells(actor, at=at, what=Action.EXPORT_RECORD),
    )


def _signed_by(signatures: Sequence[Printed], name: str) -> str:
    """Who stands for the sign-off, by the name that they signed with; of one that was brought in, by today's."""
    return next((one.name for one in signatures if one.kind == "sign_off"), name)


def _criterion(asked: Mapping[str, Any]) -> list[str]:
    """What the protocol asks for, one sentence a line."""
    lines = []
    for stage in asked["stages"]:
        rung, days = WORDS.rung(stage["support"]), stage["days"]
        text = _("{n} in a row, {support}, on {days} days") if days > 1 else _("{n} in a row, {support}")
        line = text.format(n=stage["in_a_row"], support=rung, days=days)
        helped = _("{line}, {help} or less help").format(line=line, help=HELP.get(stage["help"], stage["help"]))
        lines.append(helped if stage["help"] else line)
    if asked["barred"]:
        barred = ", ".join(names.short(key, key.replace("_", " "), names.DEVIATIONS).lower() for key in asked["barred"])
        lines.append(_("without: {deviations}").format(deviations=barred))
    lines += [measures.asked(key, span) for key, span in asked["measures"].items()]
    return lines


def _seen(one: Mapping[str, Any], skill: str, everybody: Mapping[str, str], signed: SignedOn | None) -> Seen:
    told: Told = tell({"kind": "attempt", "skill": skill, **one})
    role = str(one.get("role", ""))
    name = everybody.get(one["by"], one["by"])
    return Seen(
        at=datetime.fromisoformat(one["at"]),
        support=WORDS.rung(one["support"]),
        help=HELP.get(one["help"], one["help"]),
        result=one["result"],
        detail=told.detail,
        by=f"{name}, {Role(role).label}" if role and role != "therapist" else name,
        since=signed is not None and one["id"] not in signed.attempts,
    )
