"""Signing by the API: every part asked for, all components by a token, the signature told as it is printed."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.test import APIClient

from caseload.models import Episode
from checklists.models import Signature
from clinic.staff.models import Staff
from tests.api.conftest import Caller
from tests.makers import PASSWORD, a_code, a_lead, a_therapist, ago, an_attempt, an_episode, recorded

pytestmark = pytest.mark.django_db(transaction=True)


def address(episode: Episode) -> str:
    return f"/api/v1/episodes/{episode.pk}/sign-offs/don_check/"


def proven(signer: Staff) -> Episode:
    episode = an_episode(assigned_to=signer)
    for days in (2, 1, 1):
        recorded(signer, episode, an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    return episode


def whole(caller: APIClient, signer: Staff, episode: Episode, **more: Any) -> dict[str, Any]:
    """A signature with all its parts."""
    digest = caller.get(address(episode)).json()["digest"]
    return {"digest": digest, "meaning": "approval", "password": PASSWORD, "code": a_code(signer), **more}


@pytest.mark.parametrize(("part", "status"), [("digest", 400), ("meaning", 400), ("password", 403), ("code", 403)])
def test_each_part_of_a_signature_is_asked_for(calling: Caller, part: str, status: int) -> None:
    signer = a_therapist()
    episode, caller = proven(signer), calling(signer)
    sent = whole(caller, signer, episode)
    del sent[part]
    assert caller.post(address(episode), sent).status_code == status
    assert not Signature.objects.exists()


@pytest.mark.parametrize(("meaning", "status"), [("witness", 400), ("review", 422), ("authorship", 422)])
def test_a_meaning_that_is_none_of_the_list_or_not_this_deeds_is_refused(
    calling: Caller, meaning: str, status: int
) -> None:
    signer = a_therapist()
    episode, caller = proven(signer), calling(signer)
    assert caller.post(address(episode), whole(caller, signer, episode, meaning=meaning)).status_code == status


def test_a_token_gives_all_components_each_time(calling: Caller) -> None:
    signer = a_therapist()
    caller = calling(signer)
    for _ in range(2):
        episode = proven(signer)
        half = {**whole(caller, signer, episode)}
        del half["code"]
        assert caller.post(address(episode), half).status_code == 403
        assert caller.post(address(episode), whole(caller, signer, episode)).status_code == 201


def test_a_withdrawal_and_a_countersignature_take_them_too(calling: Caller) -> None:
    signer, lead = a_therapist(), a_lead(name="Marit Sandhollow")
    episode, caller = an_episode(assigned_to=signer), calling(signer)
    recorded(signer, episode, an_attempt("don_check", "none", help="watching"))
    second = {"username": lead.username, "password": PASSWORD, "reason": "Seen at home."}
    sent = whole(caller, signer, episode, countersign=second)
    assert caller.post(address(episode), sent).status_code == 403
    sent = whole(caller, signer, episode, countersign={**second, "code": a_code(lead)})
    assert caller.post(address(episode), sent).status_code == 201
    (told,) = caller.get(address(episode)).json()["signatures"]
    assert (told["countersigner"], told["countersigner_meaning"]) == ("Marit Sandhollow", "responsibility")
    back = f"{address(episode)}withdrawn/"
    assert caller.post(back, {"reason": "Skin.", "password": PASSWORD}).status_code == 403
    assert caller.post(back, {"reason": "Skin.", "password": PASSWORD, "code": a_code(signer)}).status_code == 204
