"""Nothing real is judged by thresholds that nobody has made the clinic's own, by name and date."""

from __future__ import annotations

import json
from itertools import chain

import pytest

from caseload.models import Episode
from checklists.adoption import steps
from checklists.adoption.services import adopt_protocol
from checklists.adoption.steps import NotAdopted
from checklists.adoption.thresholds import NO_SOURCE, numbers, thresholds
from checklists.episode.services import open_episode
from checklists.models import Adoption
from checklists.record import protocols
from checklists.record.protocols import FOLDER
from checklists.record.services import record_entries
from clinic.errors import Conflict, Denied, Refusal, Stale
from clinic.models import Staff, TrailRow
from tests.makers import (
    PASSWORD,
    a_lead,
    a_proof,
    a_referral,
    a_therapist,
    adopted,
    an_assistant,
    an_attempt,
    an_episode,
    now,
    recorded,
)

DOCUMENT = json.loads((FOLDER / "above_knee.json").read_bytes())
pytestmark = pytest.mark.django_db
ends_by_itself = pytest.mark.django_db(transaction=True)


def unadopted(monkeypatch: pytest.MonkeyPatch) -> None:
    """As on a clinic's first day: nobody has adopted anything."""
    monkeypatch.setattr(steps, "_known", set())
    monkeypatch.setattr(Adoption.objects, "filter", lambda **_: Adoption.objects.none())


def shown_digest() -> str:
    return steps.shown(protocols.current(now())).digest


def test_every_number_and_every_span_of_the_document_stands_in_the_list_once() -> None:
    in_the_document = sorted(place for place, _, _ in numbers(DOCUMENT, "") if place != "version")
    assert sorted(row.place for row in thresholds(DOCUMENT)) == in_the_document
    assert len(in_the_document) > 80


def test_a_number_that_somebody_adds_to_the_document_would_be_missed_here() -> None:
    more = json.loads(json.dumps(DOCUMENT))
    more["skills"][0]["pause_days"] = 3
    places = {place for place, _, _ in numbers(more, "")} - {"version"}
    assert places - {row.place for row in thresholds(more)} == {"skills/don_check/pause_days"}


@pytest.mark.parametrize(
    ("place", "value"),
    [
        ("gap_days", "28 days"),
        ("fall_review_days", "4 days"),
        ("skills/sit_stand/proven/measures/load_share/0", "at least 40 %"),
        ("skills/sit_stand/proven/measures/load_share/1", "at most 60 %"),
        ("skills/stand_load/proven/measures/held_s/0", "at least 10 s"),
        ("skills/even_walk/proven/measures/step_ratio/1", "at most 1.1"),
        ("skills/stair_down/proven/stages/1/in_a_row", "3"),
        ("skills/lock_use/valid_days", "180 days"),
        ("rules/contralateral_before_ipsilateral/require/at_least", "at least 3"),
        ("rules/walking_mode_in_time/within", "3 hours"),
    ],
)
def test_a_threshold_is_said_with_its_unit(place: str, value: str) -> None:
    row = next(row for row in thresholds(DOCUMENT) if row.place == place)
    assert (row.value, row.source) == (value, NO_SOURCE)


def test_a_source_that_the_document_names_is_shown() -> None:
    sourced = json.loads(json.dumps(DOCUMENT))
    sourced["skills"][0]["source"] = "a published study"
    rows = [row for row in thresholds(sourced) if row.place.startswith("skills/don_check/")]
    assert {row.source for row in rows} == {"a published study"}


@ends_by_itself
def test_an_episode_is_not_opened_before_the_lead_has_adopted() -> None:
    lead, therapist, referral = a_lead(), a_therapist(), a_referral(first=True)
    with pytest.raises(NotAdopted, match=r"page Protocol \(/protocol/\)"):
        open_episode(actor=lead, referral_id=referral.pk, therapist_id=therapist.pk)
    assert not Episode.objects.exists()
    adopt_protocol(actor=lead, digest=shown_digest(), proof=a_proof(lead))
    open_episode(actor=lead, referral_id=referral.pk, therapist_id=therapist.pk)
    assert Episode.objects.count() == 1


@ends_by_itself
def test_nothing_is_recorded_by_a_version_that_nobody_has_adopted(monkeypatch: pytest.MonkeyPatch) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    assert recorded(therapist, episode, an_attempt()).verdicts[0].outcome == "accepted"
    unadopted(monkeypatch)
    with pytest.raises(NotAdopted) as refused:
        record_entries(actor=therapist, episode_id=episode.pk, entries=[an_attempt()])
    assert refused.value.status == 409


@ends_by_itself
def test_a_lead_adopts_by_name_and_date() -> None:
    lead = a_lead(name="Marit Sandhollow")
    adoption = adopt_protocol(actor=lead, digest=shown_digest(), proof=a_proof(lead))
    assert adoption.adopter_name == "Marit Sandhollow"
    assert "above_knee@1" in adoption.statement
    kept = json.loads(adoption.shown)
    assert {row["place"] for row in kept["thresholds"]} == {row.place for row in thresholds(DOCUMENT)}
    row = TrailRow.objects.get(verb="protocol.adopted")
    assert (row.actor, row.subject_id) == (lead, "above_knee@1")


@ends_by_itself
def test_it_is_adopted_once() -> None:
    lead, other = a_lead(), a_lead()
    adopt_protocol(actor=lead, digest=shown_digest(), proof=a_proof(lead))
    with pytest.raises(Conflict, match="adopted by"):
        adopt_protocol(actor=other, digest=shown_digest(), proof=a_proof(other))
    assert Adoption.objects.count() == 1


@ends_by_itself
@pytest.mark.parametrize(
    ("who", "digest", "password", "refusal"),
    [
        (a_therapist, "", PASSWORD, Denied),
        (an_assistant, "", PASSWORD, Denied),
        (a_lead, "", "not the password", Refusal),
        (a_lead, "0" * 64, PASSWORD, Stale),
    ],
)
def test_nobody_adopts_without_right_password_and_the_list_that_was_shown(
    who: object, digest: str, password: str, refusal: type[Refusal]
) -> None:
    actor: Staff = who()  # type: ignore[operator]  # a maker, by parameter
    with pytest.raises(refusal):
        adopt_protocol(actor=actor, digest=digest or shown_digest(), proof=a_proof(actor, password=password))
    assert not Adoption.objects.exists()


def test_the_makers_adopt_what_they_record_by() -> None:
    assert adopted() == adopted()
    assert list(chain(Adoption.objects.values_list("adopter_name", flat=True))) == ["Ansgar Tellwright"]
