"""Signing a skill off, and withdrawing a signature: with the evidence on screen, a password, and the reasons when it is
refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.db import transaction

from caseload.episode.models import Episode as EpisodeRow
from checklists.domain import Entry, Episode
from checklists.record import fold, protocols
from checklists.record.models import Head, SignedEvidence
from checklists.record.one import fact, write_one
from checklists.record.verdict import Recorded
from checklists.signoff.authority import lacking
from checklists.signoff.countersign import Countersign, countersigner
from checklists.signoff.evidence import Evidence, evidence_of, seen_by, standing, statement
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Denied, Invalid, Stale
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import check_password

__all__ = ["Countersign", "Readiness", "SignedOff", "readiness", "sign_off", "withdraw_sign_off"]


class NotSupported(Conflict):
    """The evidence does not carry the signature."""

    code = "not_supported"


class NoAuthority(Denied):
    """This person may not sign this, whoever countersigns."""

    code = "no_authority"


@dataclass(frozen=True, slots=True)
class Readiness:
    """What is shown before signing. `barred`: why this signer may not, whatever the evidence. `blockers`: what is
    missing yet.

    `may_override`: only `blockers` stand in the way, so that another clinic lead could countersign.
    """

    skill: str
    title: str
    status: str
    statement: str
    evidence: Evidence
    blockers: tuple[str, ...]
    barred: tuple[str, ...]

    @property
    def digest(self) -> str:
        """Of the evidence: given back with the signature, so that what is signed is what was shown."""
        return self.evidence.digest

    @property
    def may_override(self) -> bool:
        """Whether a countersignature would do."""
        return bool(self.blockers) and not self.barred


@dataclass(frozen=True, slots=True)
class SignedOff:
    """A signature that stands. `repeated`: it was there already."""

    entry: UUID
    skill: str
    at: datetime
    repeated: bool
    recorded: Recorded | None = None


@dataclass(frozen=True, slots=True)
class _Case:
    """An episode as it stands, for a question about one skill."""

    row: EpisodeRow
    episode: Episode
    record: list[Entry]
    skill: str

    def last_signature(self) -> Entry | None:
        """The signature of this skill that stands, if one does."""
        said = [
            entry
            for entry in standing(self.record)
            if entry.kind in ("sign_off", "sign_off_withdrawn") and entry.get("skill") == self.skill
        ]
        return said[-1] if said and said[-1].kind == "sign_off" else None


def readiness(*, actor: Staff, episode_id: UUID, skill: str) -> Readiness:
    """The evidence, the statement, and what stands in the way of this actor's signature now."""
    at = clock.now()
    return _readiness(_case(actor, episode_id, skill, at), actor, at)


def sign_off(
    *, actor: Staff, episode_id: UUID, skill: str, digest: str, password: str, countersign: Countersign | None = None
) -> SignedOff:
    """Sign a skill off on the evidence with this digest. The same state signed twice, or twice at once, is one
    signature.

    Refused: a wrong password; evidence that has changed since it was shown; want of authority, or a person never seen,
    always; what the evidence does not support, unless another clinic lead countersigns.
    """
    check_password(actor, password)  # before the transaction: a wrong one stays counted
    lead = countersigner(actor, countersign) if countersign else None
    return _signed(actor, episode_id, skill, digest, lead, countersign.reason.strip() if countersign else "")


@transaction.atomic(durable=True)
def _signed(actor: Staff, episode_id: UUID, skill: str, digest: str, lead: Staff | None, reason: str) -> SignedOff:
    at = clock.now()
    case = _case(actor, episode_id, skill, at, locked=True)
    first = _same_signature(case, actor, digest)
    if first is not None:
        return SignedOff(UUID(first.id), skill, first.instant, repeated=True)
    ready = _readiness(case, actor, at)
    if ready.digest != digest:
        raise Stale("Something was recorded since this was shown. Look at the evidence again, then sign.")
    if ready.barred:
        raise NoAuthority("You may not sign this off: " + " ".join(ready.barred), reasons=ready.barred)
    if ready.blockers and lead is None:
        raise NotSupported("The evidence does not carry this: " + " ".join(ready.blockers), reasons=ready.blockers)
    override = {"by": lead.reference, "reason": reason} if lead and ready.blockers else None
    entry_id = uuid4()
    fields = {
        "skill": skill,
        "statement": ready.statement,
        "evidence": digest,
        "protocol": case.episode.protocol.reference,
    }
    signature = fact("sign_off", at, id_=entry_id, override=override, **fields)
    recorded = write_one(actor, episode_id, signature, at=at, permitted=True)
    SignedEvidence.objects.create(
        entry_id=entry_id,
        skill=skill,
        statement=ready.statement,
        evidence=ready.evidence.text,
        digest=digest,
        protocol=case.episode.protocol.reference,
        signer_name=actor.name,
        countersigner=lead if override else None,
        countersign_reason=reason[:400] if override else "",
    )
    _account(
        actor,
        "skill.signed_off",
        case,
        at,
        entry=str(entry_id),
        countersigned=lead.reference if override and lead else None,
    )
    return SignedOff(entry_id, skill, at, repeated=False, recorded=recorded)


def withdraw_sign_off(*, actor: Staff, episode_id: UUID, skill: str, reason: str, password: str) -> Recorded:
    """Take a signature back, with the reason and the password. Without one that stands: Conflict."""
    check_password(actor, password)
    if not reason.strip():
        raise Invalid("Say why the sign-off is withdrawn.", reasons=["reason: is missing"])
    return _withdrawn(actor, episode_id, skill, reason.strip())


@transaction.atomic(durable=True)
def _withdrawn(actor: Staff, episode_id: UUID, skill: str, reason: str) -> Recorded:
    at = clock.now()
    case = _case(actor, episode_id, skill, at, locked=True)
    if case.last_signature() is None:
        raise Conflict("No sign-off of this skill stands, so there is none to withdraw.")
    taken_back = fact("sign_off_withdrawn", at, skill=skill, reason=reason)
    recorded = write_one(actor, episode_id, taken_back, at=at, permitted=True)
    _account(actor, "skill.sign_off_withdrawn", case, at, entry=taken_back["id"])
    return recorded


def _case(actor: Staff, episode_id: UUID, skill: str, at: datetime, *, locked: bool = False) -> _Case:
    """The episode, permitted and folded; locked against every other writer where something will be written."""
    row = access.get(actor, Action.SIGN_OFF, EpisodeRow.objects.select_related("site", "person"), at=at, pk=episode_id)
    heads = Head.objects.select_for_update(no_key=True) if locked else Head.objects.all()
    head = heads.get(episode=row)
    protocol = protocols.loaded(head.protocol_id)
    if skill not in protocol.skills:
        raise Invalid("The protocol has no such skill.", reasons=["skill: unknown"])
    record = fold.stored(protocol, row.pk)
    load: Callable[[], list[Entry]] = partial(list, record)
    return _Case(row, fold.restore(protocol, bytes(head.snapshot), row.reference, load), record, skill)


def _readiness(case: _Case, actor: Staff, at: datetime) -> Readiness:
    local = at.astimezone(ZoneInfo(case.row.site.time_zone))
    day = local.date()
    protocol, skill = case.episode.protocol, case.skill
    evidence = evidence_of(case.episode, case.record, skill, at=local)
    barred = lacking(actor, protocol, skill, day)
    if not seen_by(case.record, actor.reference):
        barred.append("You have no attempt or check of your own with this person: whoever has seen them signs.")
    if case.row.closed_at is not None:
        barred.append("The episode is closed: nothing is signed under it any more, whoever countersigns.")
    role = actor.stamped_role(at.date()) or ""
    return Readiness(
        skill=skill,
        title=protocol.skills[skill].title,
        status=evidence.shown["status"],
        statement=statement(case.episode, skill, name=actor.name, role=role),
        evidence=evidence,
        blockers=tuple(_blockers(case, actor, local)),
        barred=tuple(barred),
    )


def _blockers(case: _Case, actor: Staff, local: datetime) -> list[str]:
    """What stands against the sign-off, had it been given now: what the evidence lacks, and every other rule it would
    break.

    `local` is the instant in the site's zone: the core reads calendar dates as they are written.
    """
    role = actor.stamped_role(local.astimezone(UTC).date())
    advice = case.episode.advise({"kind": "sign_off", "skill": case.skill}, at=local, role=role)
    said = [one.sentence for one in advice.breaks if one.rule != "unsupported_sign_off"]
    return said + list(case.episode.sign_off_blockers(case.skill, local))


def _same_signature(case: _Case, actor: Staff, digest: str) -> Entry | None:
    """The standing signature of this actor on the very same evidence."""
    last = case.last_signature()
    return last if last is not None and last.by == actor.reference and last.get("evidence") == digest else None


def _account(actor: Staff, verb: str, case: _Case, at: datetime, **detail: str | None) -> None:
    said = {"skill": case.skill} | {name: value for name, value in detail.items() if value}
    trail.record(actor, verb, "episode", case.row.reference, at=at, episode=case.row.pk, detail=said)
