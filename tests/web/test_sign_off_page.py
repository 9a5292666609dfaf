"""The sign-off page: evidence on screen, password again, refusals with reasons, a countersignature, a withdrawal."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from caseload.models import Episode
from checklists.record.models import SignedEvidence
from clinic.staff.models import Staff
from tests.makers import (
    PASSWORD,
    a_code,
    a_lead,
    a_records_officer,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
)

# the services commit for themselves (durable), so they must not run inside a test's own transaction
pytestmark = pytest.mark.django_db(transaction=True)
Enter = Callable[[Staff], Client]


def proven(staff: Staff) -> Episode:
    """Three safe on two days: putting on, skin and fit may be signed."""
    episode = an_episode(assigned_to=staff)
    days = (3, 2, 1)
    attempts = [an_attempt("don_check", "none", help="watching", at=ago(days=day), by=staff) for day in days]
    imported(staff, episode, *attempts)
    return episode


def address(episode: Episode, skill: str = "don_check") -> str:
    return f"/people/{episode.pk}/sign-off/{skill}/"


def sign(client: Client, episode: Episode, skill: str = "don_check", **fields: Any) -> Any:
    """Look at the page and sign what it showed."""
    digest = client.get(address(episode, skill)).context["page"].ready.digest
    given = {"digest": digest, "meaning": "approval", "password": PASSWORD, "one_time_code": code_of(client), **fields}
    return client.post(address(episode, skill), given)


def code_of(client: Client) -> str:
    """The code of whoever is signed in at this browser."""
    return a_code(Staff.objects.get(pk=client.session["_auth_user_id"]))


def said(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_the_evidence_and_the_statement_stand_on_the_page(enter: Enter, runa: Staff) -> None:
    episode = proven(runa)
    seen = said(enter(runa).get(address(episode)))
    assert f"{episode.reference} is <b>{episode.person.full_name}</b>." in seen, "what is signed names the episode only"
    assert seen.count("<td>watching</td>") == 3
    assert "I, Runa Achterling" in seen
    assert "local policy and licensed practice" in seen


def test_what_is_open_with_the_person_is_told_before_signing(enter: Enter, runa: Staff) -> None:
    client, told = enter(runa), "Open with this person, whatever is signed"
    episode = proven(runa)
    assert told not in said(client.get(address(episode)))
    recorded(runa, episode, an_entry("mode_set", at=ago(minutes=3), mode="locked", support="bars_both"))
    seen = said(client.get(address(episode)))
    assert seen.index(told) < seen.index("Knee: locked, only set, not proven.") < seen.index("I, Runa Achterling")


def test_a_signature_is_kept_with_what_was_shown(enter: Enter, runa: Staff) -> None:
    episode = proven(runa)
    assert sign(enter(runa), episode).status_code == 302
    kept = SignedEvidence.objects.get()
    assert (kept.skill, kept.signer_name, kept.protocol) == ("don_check", "Runa Achterling", "above_knee@1")


def test_beside_a_signature_stands_who_makes_a_proof_of_it_for_whoever_may_not(enter: Enter, runa: Staff) -> None:
    a_records_officer(name="Fenna Inkersole")
    episode, client = proven(runa), enter(runa)
    told = "A proof of a signature, as a file that anybody can check, is made by a records officer: Fenna Inkersole."
    assert told not in said(client.get(address(episode))), "there is none yet"
    sign(client, episode)
    assert told in said(client.get(address(episode)))


def test_whoever_is_told_who_makes_a_proof_learns_where_it_is_checked_and_may_open_that(
    enter: Enter, runa: Staff
) -> None:
    a_records_officer(name="Fenna Inkersole")
    episode, client = proven(runa), enter(runa)
    sign(client, episode)
    told = 'Whoever has the file checks it on <a href="/verify/">the page for checking</a>, which needs no account.'
    assert told in said(client.get(address(episode))).partition("Fenna Inkersole.")[2].partition("</p>")[0]
    assert [reader.get("/verify/").status_code for reader in (client, enter(a_lead()), Client())] == [200] * 3


def test_where_a_signature_stands_the_evidence_is_said_to_be_for_a_new_one(enter: Enter, runa: Staff) -> None:
    episode, client, lacks = proven(runa), enter(runa), "For a new signature today: not carried by the evidence"
    assert "For a new signature" not in said(client.get(address(episode)))
    sign(client, episode)
    seen = said(client.get(address(episode)))
    assert lacks in seen
    assert "<b>Not carried by the evidence</b>" not in seen
    assert "The evidence does not carry a new signature today" in seen
    assert "What stands behind a new signature" in seen


def test_a_signed_page_says_what_was_signed_on_and_what_came_since(enter: Enter, runa: Staff) -> None:
    """The digest beside the signature is the one that it keeps; the attempts since stand above a line that says so."""
    episode, client = proven(runa), enter(runa)
    assert "on the attempts below this line" not in said(client.get(address(episode)))
    sign(client, episode)
    kept, later = SignedEvidence.objects.get(), an_attempt("don_check", "none", help="watching", result="stopped")
    seen = said(client.get(address(episode)))
    assert seen.index("on the attempts below this line") < seen.index("<td>watching</td>")
    assert "since the signature" not in seen
    assert "was stopped counts" not in seen
    recorded(runa, episode, later)
    seen = said(client.get(address(episode)))
    first, line = (seen.index(one) for one in ("since the signature", "on the attempts below this line"))
    assert first < line < seen.index("<td>watching</td>", line)
    assert seen.count("since the signature") == 1
    assert "An attempt that was stopped counts neither for nor against" in seen
    told = seen.partition("stored with that signature")[2].partition("Digest of the evidence as it stands now")
    assert kept.digest[:24] in told[0]
    assert kept.digest[:24] not in told[2]
    (attempt, *_rest) = [one["id"] for one in json.loads(kept.evidence)["attempts"]]
    recorded(runa, episode, an_entry("struck_out", at=ago(seconds=30), entry=attempt, reason="Wrong result"))
    assert "1 attempt that it was signed on was struck out since." in said(client.get(address(episode)))


def test_a_wrong_password_signs_nothing_and_says_so(enter: Enter, runa: Staff) -> None:
    answer = sign(enter(runa), proven(runa), password="not this one at all")
    assert answer.status_code == 403
    assert "That is not your password" in said(answer)
    assert not SignedEvidence.objects.exists()


def test_what_the_evidence_does_not_carry_is_refused_with_the_reasons(enter: Enter, runa: Staff) -> None:
    episode = an_episode(assigned_to=runa)
    recorded(runa, episode, an_attempt("don_check", "none", help="watching"))
    seen = said(enter(runa).get(address(episode)))
    assert "The evidence does not carry this" in seen
    assert "1 of 3 safe attempts in a row" in seen


def test_another_lead_may_countersign_with_a_reason(enter: Enter, runa: Staff) -> None:
    episode, marit = an_episode(assigned_to=runa), a_lead(name="Marit Sandhollow")
    recorded(runa, episode, an_attempt("don_check", "none", help="watching"))
    more = {"lead_username": marit.username, "lead_password": PASSWORD, "lead_one_time_code": a_code(marit)}
    more["reason"] = "Shown at the ward last week"
    assert sign(enter(runa), episode, **more).status_code == 302
    assert SignedEvidence.objects.get().countersigner == marit


def test_a_countersignature_without_a_reason_is_asked_for_again(enter: Enter, runa: Staff) -> None:
    episode, marit = an_episode(assigned_to=runa), a_lead()
    recorded(runa, episode, an_attempt("don_check", "none", help="watching"))
    answer = sign(enter(runa), episode, lead_username=marit.username, lead_password=PASSWORD, reason="")
    assert answer.status_code == 422
    assert not SignedEvidence.objects.exists()


def test_evidence_that_changed_meanwhile_must_be_looked_at_again(enter: Enter, runa: Staff) -> None:
    episode, client = proven(runa), enter(runa)
    digest = client.get(address(episode)).context["page"].ready.digest
    recorded(runa, episode, an_attempt("don_check", "none", help="watching"))
    given = {"digest": digest, "meaning": "approval", "password": PASSWORD, "one_time_code": code_of(client)}
    answer = client.post(address(episode), given)
    assert answer.status_code == 412
    assert "Look at the evidence again" in said(answer)


def test_without_a_current_registration_there_is_no_form_to_sign(enter: Enter, runa: Staff) -> None:
    episode = proven(runa)
    runa.registrations.update(expires_on=now().date() - timedelta(days=1))
    seen = said(enter(runa).get(address(episode)))
    assert "no professional registration that is current" in seen
    assert 'name="password"' not in seen


def test_who_has_never_seen_the_person_cannot_sign(enter: Enter, runa: Staff) -> None:
    episode = proven(runa)
    assert "whoever has seen them signs" in said(enter(a_lead()).get(address(episode)))


def test_a_signature_can_be_taken_back_with_a_reason_and_the_password(enter: Enter, runa: Staff) -> None:
    episode, client = proven(runa), enter(runa)
    sign(client, episode)
    assert "Withdraw it" in said(client.get(address(episode)))
    withdraw = f"{address(episode)}withdraw/"
    assert client.post(withdraw, {"reason": "Signed the wrong skill", "password": PASSWORD}).status_code == 302
    assert "Sign-off withdrawn: Putting on" in said(client.get(f"/people/{episode.pk}/"))


def test_a_skill_that_no_protocol_has_makes_no_sense(enter: Enter, runa: Staff) -> None:
    assert enter(runa).get(address(proven(runa), "flying")).status_code == 422


def test_the_day_of_an_attempt_is_said_with_its_month(enter: Enter, runa: Staff) -> None:
    episode = an_episode(assigned_to=runa)
    imported(runa, episode, {**an_attempt("don_check", "none", by=runa), "at": "2026-11-05T09:00:00Z"})
    assert "5 Nov 2026" in said(enter(runa).get(address(episode)))
