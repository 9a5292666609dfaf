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
from django.utils.translation import gettext as _

from caseload.episode.models import Episode as EpisodeRow
from checklists.domain import Entry, Episode
from checklists.record import fold, protocols
from checklists.record.models import Head
from checklists.record.one import fact, write_one
from checklists.record.verdict import Recorded
from checklists.signoff.authority import lacking
from checklists.signoff.countersign import Countersign, Second, countersigner
from checklists.signoff.evidence import (
    Evidence,
    evidence_of,
    evidence_of_withdrawal,
    seen_by,
    standing,
    statement,
    statement_of_withdrawal,
)
from checklists.signoff.keeping import ToKeep, keep
from checklists.signoff.meaning import SIGNING_OFF, WITHDRAWING, Meaning
from checklists.signoff.models import Signature
from checklists.words import said
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Denied, Invalid, Stale
from clinic.staff import identity
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import Proof, Shown, confirm

__all__ = ["Countersign", "Proof", "Readiness", "SignedOff", "readiness", "sign_off", "withdraw_sign_off"]


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
    *,
    actor: Staff,
    episode_id: UUID,
    skill: str,
    digest: str,
    proof: Proof,
    meaning: str = SIGNING_OFF,
    countersign: Countersign | None = None,
) -> SignedOff:
    """Sign a skill off on the evidence with this digest. The same state signed twice, or twice at once, is one
    signature.

    Refused: whoever does not show who they are by the rules of the sitting; another meaning than approval, which a
    sign-off is; evidence that has changed since it was shown; want of authority, an identity that nobody has checked,
    or a person never seen, always; what the evidence does not support, unless another clinic lead countersigns.
    """
    if meaning != SIGNING_OFF:
        raise Invalid(
            _("A sign-off is an approval: it cannot mean {meaning!r}.").format(meaning=meaning),
            reasons=[f"meaning: must be {SIGNING_OFF}"],
        )
    shown = confirm(actor, proof)  # before the transaction: what is wrong stays counted
    second = countersigner(actor, countersign) if countersign else None
    return _signed(actor, episode_id, skill, digest, shown, second)


@transaction.atomic(durable=True)
def _signed(actor: Staff, episode_id: UUID, skill: str, digest: str, shown: Shown, second: Second | None) -> SignedOff:
    at = clock.now()
    case = _case(actor, episode_id, skill, at, locked=True)
    first = _same_signature(case, actor, digest)
    if first is not None:
        return SignedOff(UUID(first.id), skill, first.instant, repeated=True)
    ready = _readiness(case, actor, at)
    if ready.digest != digest:
        raise Stale(_("Something was recorded since this was shown. Look at the evidence again, then sign."))
    if ready.barred:
        raise NoAuthority(_("You may not sign this off: ") + " ".join(ready.barred), reasons=ready.barred)
    if ready.blockers and second is None:
        raise NotSupported(
            _("The evidence does not carry this: ") + " ".join(map(said, ready.blockers)), reasons=ready.blockers
        )
    second = second if ready.blockers else None
    override = {"by": second.staff.reference, "reason": second.reason} if second else None
    entry_id, protocol = uuid4(), case.episode.protocol.reference
    fields = {"skill": skill, "statement": ready.statement, "evidence": digest, "protocol": protocol}
    signature = fact("sign_off", at, id_=entry_id, override=override, **fields)
    recorded = write_one(actor, episode_id, signature, at=at, permitted=True)
    evidence = ready.evidence.text
    kept = _kept(case, entry_id, ready.statement, evidence, actor, SIGNING_OFF, shown, at, second)
    countersigned = second.staff.reference if second else None
    _account(actor, "skill.signed_off", case, at, kept, countersigned=countersigned)
    return SignedOff(entry_id, skill, at, repeated=False, recorded=recorded)


def _kept(
    case: _Case,
    entry: UUID,
    said: str,
    evidence: str,
    signer: Staff,
    meaning: Meaning,
    shown: Shown,
    at: datetime,
    second: Second | None = None,
) -> Signature:
    """Keep the signature of what was just written about this case."""
    episode, protocol = case.row.reference, case.episode.protocol.reference
    given = ToKeep(entry, episode, case.skill, protocol, said, evidence, signer, meaning, shown, second)
    return keep(given, at=at)


def withdraw_sign_off(*, actor: Staff, episode_id: UUID, skill: str, reason: str, proof: Proof) -> Recorded:
    """Take a signature back, with the reason; that is signed too. Without one that stands: Conflict."""
    shown = confirm(actor, proof)
    if not reason.strip():
        raise Invalid(_("Say why the sign-off is withdrawn."), reasons=["reason: is missing"])
    return _withdrawn(actor, episode_id, skill, reason.strip(), shown)


@transaction.atomic(durable=True)
def _withdrawn(actor: Staff, episode_id: UUID, skill: str, reason: str, shown: Shown) -> Recorded:
    at = clock.now()
    case = _case(actor, episode_id, skill, at, locked=True)
    standing_one = case.last_signature()
    if standing_one is None:
        raise Conflict(_("No sign-off of this skill stands, so there is none to withdraw."))
    identity.require(actor)
    taken_back = fact("sign_off_withdrawn", at, skill=skill, reason=reason)
    recorded = write_one(actor, episode_id, taken_back, at=at, permitted=True)
    evidence = evidence_of_withdrawal(case.row.reference, skill, withdraws=standing_one.id, reason=reason)
    said = statement_of_withdrawal(case.episode, skill, name=actor.name, role=actor.stamped_role(at.date()) or "")
    kept = _kept(case, UUID(taken_back["id"]), said, evidence, actor, WITHDRAWING, shown, at)
    _account(actor, "skill.sign_off_withdrawn", case, at, kept)
    return recorded


def _case(actor: Staff, episode_id: UUID, skill: str, at: datetime, *, locked: bool = False) -> _Case:
    """The episode, permitted and folded; locked against every other writer where something will be written."""
    row = access.get(actor, Action.SIGN_OFF, EpisodeRow.objects.select_related("site", "person"), at=at, pk=episode_id)
    heads = Head.objects.select_for_update(no_key=True) if locked else Head.objects.all()
    head = heads.get(episode=row)
    protocol = protocols.loaded(head.protocol_id)
    if skill not in protocol.skills:
        raise Invalid(_("The protocol has no such skill."), reasons=["skill: unknown"])
    record = fold.stored(protocol, row.pk)
    load: Callable[[], list[Entry]] = partial(list, record)
    return _Case(row, fold.restore(protocol, bytes(head.snapshot), row.reference, load), record, skill)


def _readiness(case: _Case, actor: Staff, at: datetime) -> Readiness:
    local = at.astimezone(ZoneInfo(case.row.site.time_zone))
    day = local.date()
    protocol, skill = case.episode.protocol, case.skill
    evidence = evidence_of(case.episode, case.record, skill, at=local)
    barred = [*lacking(actor, protocol, skill, day), *identity.faults(actor)]
    if not seen_by(case.record, actor.reference):
        barred.append(_("You have no attempt or check of your own with this person: whoever has seen them signs."))
    if case.row.closed_at is not None:
        barred.append(_("The episode is closed: nothing is signed under it any more, whoever countersigns."))
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
    others = [one.sentence for one in advice.breaks if one.rule != "unsupported_sign_off"]
    return others + list(case.episode.sign_off_blockers(case.skill, local))


def _same_signature(case: _Case, actor: Staff, digest: str) -> Entry | None:
    """The standing signature of this actor on the very same evidence."""
    last = case.last_signature()
    return last if last is not None and last.by == actor.reference and last.get("evidence") == digest else None


def _account(actor: Staff, verb: str, case: _Case, at: datetime, kept: Signature, **detail: str | None) -> None:
    """The row of the trail, which binds the signature: its digest stands here, and the ledger holds the row."""
    said = {"skill": case.skill, "entry": str(kept.entry_id), "signature": kept.digest, "meaning": str(kept.meaning)}
    said |= {"shown": str(kept.shown)} | {name: value for name, value in detail.items() if value}
    trail.record(actor, verb, "episode", case.row.reference, at=at, episode=case.row.pk, detail=said)
