"""Signing off: on the evidence shown, with the password, by whoever may, once."""

from __future__ import annotations

import hashlib
import json
import threading
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection

from caseload.models import Episode
from checklists.models import Alert, Entry, Head, SignedEvidence
from checklists.record.verdict import Recorded
from checklists.signoff.countersign import CannotCountersign
from checklists.signoff.services import (
    Countersign,
    NoAuthority,
    NotSupported,
    SignedOff,
    readiness,
    sign_off,
    withdraw_sign_off,
)
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid, NotFound, Refusal, Stale
from clinic.staff.models import Registration, Staff
from clinic.staff.reauthenticate import Proof, WrongPassword
from clinic.staff.services import give_password
from clinic.staff.sitting import InMemory, sitting
from tests.makers import (
    PASSWORD,
    a_code,
    a_lead,
    a_proof,
    a_prosthetist,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db(transaction=True)
SKILL = "don_check"


def a_proven_skill(signer: Any = None, *, side: Any = "left") -> Any:
    """Putting on and checking, proven on two days by the signer."""
    signer = signer or a_therapist()
    episode = an_episode(assigned_to=signer, side=side)
    for days in (2, 1, 1):
        recorded(signer, episode, an_attempt(SKILL, "none", help="watching", at=ago(days=days)))
    return signer, episode


def signed(signer: Staff, episode: Episode, *, skill: str = SKILL, **more: Any) -> SignedOff:
    digest = readiness(actor=signer, episode_id=episode.pk, skill=skill).digest
    more.setdefault("proof", a_proof(signer, password=more.pop("password", PASSWORD)))
    return sign_off(actor=signer, episode_id=episode.pk, skill=skill, **{"digest": digest, **more})


def withdrawn(signer: Staff, episode: Episode, **more: Any) -> Recorded:
    given = {"reason": "Skin broke down.", "proof": a_proof(signer), **more}
    return withdraw_sign_off(actor=signer, episode_id=episode.pk, skill=SKILL, **given)


def status_of(episode: Episode, skill: str = SKILL) -> str:
    return str(Head.objects.get(episode=episode).board["skills"][skill]["status"])


def test_a_proven_skill_is_signed_off_on_what_was_shown() -> None:
    signer, episode = a_proven_skill()
    shown = readiness(actor=signer, episode_id=episode.pk, skill=SKILL)
    done = signed(signer, episode)
    kept = SignedEvidence.objects.get(entry__id=done.entry)
    assert status_of(episode) == "signed_off"
    assert (kept.statement, kept.evidence, kept.signer_name) == (shown.statement, shown.evidence.text, signer.name)
    assert hashlib.sha256(kept.evidence.encode()).hexdigest() == kept.digest == shown.digest
    assert kept.protocol == "above_knee@1"
    said = json.loads(Entry.objects.get(id=done.entry).content.body)
    assert (said["evidence"], said["statement"], said["protocol"]) == (kept.digest, kept.statement, kept.protocol)
    assert len(json.loads(kept.evidence)["attempts"]) == 3
    assert TrailRow.objects.filter(verb="skill.signed_off", actor=signer).count() == 1
    assert not Alert.objects.exists()


def test_the_same_state_signed_twice_is_one_signature() -> None:
    signer, episode = a_proven_skill()
    digest = readiness(actor=signer, episode_id=episode.pk, skill=SKILL).digest
    first, second = (signed(signer, episode, digest=digest) for _ in range(2))
    assert (first.entry, first.repeated, second.repeated) == (second.entry, False, True)


def test_twice_at_once_is_one_signature() -> None:
    signer, episode = a_proven_skill()
    digest = readiness(actor=signer, episode_id=episode.pk, skill=SKILL).digest
    start, found = threading.Barrier(2), []

    def sign() -> Any:
        here = InMemory()
        here.note_all_shown(signer)
        try:
            start.wait(5)
            with sitting(here):
                found.append(signed(signer, episode, digest=digest, proof=Proof(PASSWORD)))
        finally:
            connection.close()

    threads = [threading.Thread(target=sign) for _ in range(2)]
    for one in threads:
        one.start()
    for one in threads:
        one.join(60)
    assert len({one.entry for one in found}) == 1
    assert sorted(one.repeated for one in found) == [False, True]
    assert Entry.objects.filter(kind="sign_off").count() == 1


def test_what_changed_since_it_was_shown_is_not_signed() -> None:
    signer, episode = a_proven_skill()
    digest = readiness(actor=signer, episode_id=episode.pk, skill=SKILL).digest
    recorded(signer, episode, an_attempt(SKILL, "none", help="watching", result="unsafe"))
    with pytest.raises(Stale):
        signed(signer, episode, digest=digest)


def test_a_wrong_password_signs_nothing() -> None:
    signer, episode = a_proven_skill()
    with pytest.raises(WrongPassword):
        signed(signer, episode, password="something else")
    assert not Entry.objects.filter(kind="sign_off").exists()


def test_what_the_evidence_does_not_carry_is_refused_with_reasons() -> None:
    signer = a_therapist()
    episode = an_episode(assigned_to=signer)
    recorded(signer, episode, an_attempt(SKILL, "none", help="watching"))
    with pytest.raises(NotSupported, match="1 of 3 safe attempts in a row") as refused:
        signed(signer, episode)
    assert refused.value.reasons
    assert not Entry.objects.filter(kind="sign_off").exists()


# --- a lead countersigns ----------------------------------------------------------------------------------------------


def an_unproven_skill() -> Any:
    signer = a_therapist()
    episode = an_episode(assigned_to=signer)
    recorded(signer, episode, an_attempt(SKILL, "none", help="watching"))
    return signer, episode


def by(lead: Any, *, password: Any = PASSWORD, reason: Any = "Seen on the ward.") -> Any:
    return Countersign(lead.username, password, reason, a_code(lead))


def test_another_lead_may_countersign_and_it_is_asked_about_all_the_same() -> None:
    (signer, episode), lead = an_unproven_skill(), a_lead()
    done = signed(signer, episode, countersign=by(lead))
    said = json.loads(Entry.objects.get(id=done.entry).content.body)
    assert said["override"] == {"by": lead.reference, "reason": "Seen on the ward."}
    assert SignedEvidence.objects.get().countersigner == lead
    assert [one.rule for one in Alert.objects.all()] == ["unsupported_sign_off"]
    assert status_of(episode) == "signed_off"


def test_where_it_is_supported_a_countersignature_is_no_override() -> None:
    (signer, episode), lead = a_proven_skill(), a_lead()
    done = signed(signer, episode, countersign=by(lead))
    assert "override" not in json.loads(Entry.objects.get(id=done.entry).content.body)


def test_nobody_countersigns_for_themselves() -> None:
    lead = a_lead()
    episode = an_episode()
    recorded(lead, episode, an_attempt(SKILL, "none", help="watching"))
    with pytest.raises(CannotCountersign, match="other than the signer"):
        signed(lead, episode, countersign=by(lead))


def test_a_lead_who_gives_another_lead_a_password_does_not_countersign_with_it() -> None:
    lead, other = a_lead(), a_lead()
    episode = an_episode()
    recorded(lead, episode, an_attempt(SKILL, "none", help="watching"))
    taken = give_password(actor=lead, staff_id=other.pk)
    with pytest.raises(CannotCountersign, match="password of their own"):
        signed(lead, episode, countersign=by(taken.staff, password=taken.password))
    assert not Entry.objects.filter(kind="sign_off").exists()


def test_nothing_is_signed_under_a_closed_episode_whoever_countersigns() -> None:
    (_, episode), lead = a_proven_skill(), a_lead()
    recorded(lead, episode, an_attempt(SKILL, "none", help="watching"), an_entry("episode_closed"))
    digest = readiness(actor=lead, episode_id=episode.pk, skill=SKILL).digest
    with pytest.raises(NoAuthority, match="closed"):
        sign_off(
            actor=lead,
            episode_id=episode.pk,
            skill=SKILL,
            digest=digest,
            proof=a_proof(lead),
            countersign=by(a_lead()),
        )
    assert not Entry.objects.filter(kind="sign_off").exists()


@pytest.mark.parametrize(
    ("who", "password", "reason", "refusal"),
    [
        (a_therapist, PASSWORD, "Seen.", CannotCountersign),
        (a_prosthetist, PASSWORD, "Seen.", CannotCountersign),
        (a_lead, "a guess", "Seen.", CannotCountersign),
        (a_lead, PASSWORD, " ", Invalid),
    ],
)
def test_a_countersignature_that_does_not_hold(who: Any, password: Any, reason: Any, refusal: Any) -> None:
    signer, episode = an_unproven_skill()
    with pytest.raises(refusal):
        signed(signer, episode, countersign=by(who(), password=password, reason=reason))
    assert not Entry.objects.filter(kind="sign_off").exists()


# --- who may ----------------------------------------------------------------------------------------------------------


def test_without_a_current_registration_nobody_signs_whoever_countersigns() -> None:
    (signer, episode), lead = a_proven_skill(), a_lead()
    Registration.objects.filter(staff=signer).update(expires_on=now().date() - timedelta(days=1))
    with pytest.raises(NoAuthority, match="registration"):
        signed(signer, episode, countersign=by(lead))


def test_on_the_last_day_a_registration_still_holds() -> None:
    signer, episode = a_proven_skill()
    Registration.objects.filter(staff=signer).update(expires_on=now().date())
    assert not signed(signer, episode).repeated


def test_a_skill_that_needs_a_feature_needs_the_authorisation_for_it() -> None:
    signer, lead = a_therapist(authorised=["free_swing", "yielding"]), a_lead()
    episode = an_episode(assigned_to=signer)
    recorded(signer, episode, an_attempt("lock_use", "bars_both"))
    with pytest.raises(NoAuthority, match="manual lock"):
        signed(signer, episode, skill="lock_use", countersign=by(lead))


def test_a_withdrawn_authorisation_no_longer_counts() -> None:
    signer, lead = a_therapist(), a_lead()
    signer.authorisations.filter(feature="lock").update(withdrawn_at=ago(days=1))
    episode = an_episode(assigned_to=signer)
    recorded(signer, episode, an_attempt("lock_use", "bars_both"))
    with pytest.raises(NoAuthority, match="manual lock"):
        signed(signer, episode, skill="lock_use", countersign=by(lead))


def test_nobody_signs_for_a_person_whom_they_have_not_seen() -> None:
    _, episode = a_proven_skill()
    lead = a_lead()
    with pytest.raises(NoAuthority, match="no attempt or check of your own"):
        signed(lead, episode)


def test_what_was_struck_out_was_not_seen() -> None:
    _, episode = a_proven_skill()
    lead = a_lead()
    seen = an_attempt(SKILL, "none", help="watching")
    recorded(lead, episode, seen)
    recorded(lead, episode, an_entry("struck_out", entry=seen["id"], reason="another person's"))
    assert readiness(actor=lead, episode_id=episode.pk, skill=SKILL).barred


def test_a_stranger_learns_nothing() -> None:
    _, episode = a_proven_skill()
    with pytest.raises(NotFound):
        signed(a_therapist(), episode)


def test_a_prosthetist_does_not_sign() -> None:
    _, episode = a_proven_skill()
    with pytest.raises(Denied):
        signed(a_prosthetist(), episode)


def test_an_unknown_skill_is_refused() -> None:
    signer, episode = a_proven_skill()
    with pytest.raises(Invalid):
        signed(signer, episode, skill="flying", digest="")


def test_a_gap_is_named() -> None:
    signer = a_therapist()
    episode = an_episode(assigned_to=signer, opened=ago(days=90))
    facts = [an_entry("sign_off", skill=SKILL, by=signer, at=ago(days=45))]
    for days, support in ((44, "bars_both"), (44, "bars_one"), (43, "none"), (42, "none"), (42, "none")):
        even = {"help": "watching", "measures": {"load_share": 50}}
        facts.append(an_attempt("sit_stand", support, by=signer, at=ago(days=days, minutes=-len(facts)), **even))
    imported(signer, episode, *facts)
    assert readiness(actor=signer, episode_id=episode.pk, skill="sit_stand").blockers == (
        "There was no attempt for more than 28 days.",
    )


# --- taking it back ---------------------------------------------------------------------------------------------------


def test_a_signature_is_withdrawn_with_a_reason() -> None:
    signer, episode = a_proven_skill()
    signed(signer, episode)
    withdrawn(signer, episode)
    assert status_of(episode) == "training"
    assert TrailRow.objects.filter(verb="skill.sign_off_withdrawn").count() == 1


def test_after_a_withdrawal_the_old_evidence_signs_nothing() -> None:
    signer, episode = a_proven_skill()
    digest = readiness(actor=signer, episode_id=episode.pk, skill=SKILL).digest
    signed(signer, episode, digest=digest)
    withdrawn(signer, episode)
    with pytest.raises(Stale):
        signed(signer, episode, digest=digest)


def test_without_a_signature_there_is_none_to_withdraw() -> None:
    signer, episode = a_proven_skill()
    with pytest.raises(Conflict):
        withdrawn(signer, episode)


@pytest.mark.parametrize(("reason", "password"), [(" ", PASSWORD), ("Skin.", "a guess")])
def test_a_withdrawal_needs_reason_and_password(reason: Any, password: Any) -> None:
    signer, episode = a_proven_skill()
    signed(signer, episode)
    with pytest.raises(Refusal):
        withdrawn(signer, episode, reason=reason, proof=a_proof(signer, password=password))
    assert status_of(episode) == "signed_off"


def test_an_episode_that_is_not_there() -> None:
    with pytest.raises(NotFound):
        readiness(actor=a_lead(), episode_id=uuid4(), skill=SKILL)
