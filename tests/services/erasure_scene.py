"""What tests of an erasure share: somebody whose episode has ended, and the two acts."""

from __future__ import annotations

from typing import Any

from django.apps import apps

from caseload.models import Assignment, Visit
from checklists.episode.services import close_episode
from checklists.keeping import erasing
from checklists.keeping.models import Erasure
from checklists.models import Entry, SignedEvidence
from checklists.signoff.services import readiness, sign_off
from clinic.staff.reauthenticate import Proof
from tests.makers import (
    a_fall,
    a_lead,
    a_person,
    a_proof,
    a_records_officer,
    a_therapist,
    ago,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    recorded,
)

GROUND = {"ground": "Article 17 of the regulation", "reason": "asked for, and nothing stands against it"}


def an_ended_episode(person: Any = None) -> Any:
    """A closed episode with facts of most kinds, alerts, refusals, plans."""
    therapist = a_therapist()
    person = person or a_person(given_name="Robin", family_name="Ashdown", address="1 Mill Lane")
    episode = an_episode(assigned_to=therapist, person=person)
    recorded(
        therapist, episode, an_attempt(support="none", at=ago(hours=2), note="Robin stumbled"), a_fall(injury="very")
    )
    imported(therapist, episode, an_entry("sign_off", at=ago(hours=1), by=therapist, skill="don_check"))
    SignedEvidence.objects.create(
        entry=Entry.objects.get(episode=episode, kind="sign_off"),
        skill="don_check",
        statement="I, …",
        evidence="{}",
        digest="0" * 64,
        protocol="above_knee@1",
        signer_name=therapist.name,
    )
    Assignment.objects.filter(episode=episode).update(reason="her neighbour")
    Visit.objects.create(episode=episode, site=episode.site, staff=therapist, starts_at=ago(days=1), minutes=45)
    close_episode(actor=a_lead(), episode_id=episode.pk, reason="moved away")
    episode.refresh_from_db()
    return episode


def a_signed_episode() -> Any:
    """A closed episode with a skill that was signed off on its evidence."""
    signer = a_therapist()
    episode = an_episode(assigned_to=signer)
    for days in (2, 1, 1):
        recorded(signer, episode, an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    about: dict[str, Any] = {"actor": signer, "episode_id": episode.pk, "skill": "don_check"}
    sign_off(**about, digest=readiness(**about).digest, proof=a_proof(signer))
    close_episode(actor=a_lead(), episode_id=episode.pk, reason="reached")
    return episode


def asked(episode: Any, *, overrides: bool = True) -> Erasure:
    return erasing.ask_erasure(
        actor=a_records_officer(), person_id=episode.person_id, overrides_retention=overrides, **GROUND
    )


def done(episode: Any) -> Erasure:
    """Asked for and confirmed."""
    row = asked(episode)
    erasing.confirm_erasure(actor=a_lead(), erasure_id=row.pk, proof=Proof())
    return row


def rows_of(episode: Any) -> dict[str, list[Any]]:
    """Everything in the database that names the person, the episode or one of its entries, table by table."""
    found: dict[str, list[Any]] = {}
    keys = {str(episode.pk), str(episode.person_id)} | {
        str(one) for one in Entry.objects.filter(episode=episode).values_list("id", flat=True)
    }
    for model in apps.get_models():
        rows = [row for row in model._default_manager.values_list() if keys & {str(value) for value in row}]
        if rows:
            found[model._meta.db_table] = sorted(map(str, rows))
    return found
