"""A clinic of two sites in which somebody stands in every relation to somebody, with one of everything about each."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from caseload.emergency.models import EmergencyAccess
from caseload.models import (
    AdjustmentRequest,
    Component,
    Episode,
    Pause,
    Person,
    PlannedReview,
    Prosthesis,
    Reminder,
    Visit,
    Weight,
)
from checklists.keeping.models import LegalHold
from checklists.models import AlertStep, Deadline, Difference, HeldEntry, Notice, RefusedEntry, SealedMark
from clinic.staff.models import Site, Staff
from tests.makers import (
    a_check,
    a_cover,
    a_fall,
    a_lead,
    a_person,
    a_prosthetist,
    a_records_officer,
    a_referral,
    a_site,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_episode,
    now,
    recorded,
)

RELATIONS = ("own", "covered", "covered_once", "same_site", "other_site", "emergency", "emergency_over")


@dataclass
class World:
    """Episodes by how `therapist` stands to them; staff by their role."""

    therapist: Staff
    lead: Staff
    prosthetist: Staff
    assistant: Staff
    records: Staff
    here: Site
    there: Site
    episodes: dict[str, Episode] = field(default_factory=dict)
    ids: dict[str, dict[str, Any]] = field(default_factory=dict)
    waiting: dict[str, Any] = field(default_factory=dict)

    @property
    def staff(self) -> dict[str, Staff]:
        """Whoever asks, by role."""
        roles = ("therapist", "lead", "prosthetist", "assistant", "records")
        return {role: getattr(self, role) for role in roles}

    def in_reach(self, role: str) -> set[str]:
        """The relations whose person somebody of this role may read about, by the rules of the house."""
        if role == "therapist":
            return {"own", "covered", "emergency"}
        return {one for one in RELATIONS if one != "other_site"} if role == "assistant" else set(RELATIONS)

    def marks(self, relation: str) -> set[str]:
        """Words that stand in the rows of one person and nowhere else."""
        person = self.episodes[relation].person
        word = word_of(relation)
        return {word, person.number, self.episodes[relation].reference}

    def said_in(self, text: str, relation: str) -> set[str]:
        """Which of these words a text says."""
        return {mark for mark in self.marks(relation) if mark in text}


def word_of(relation: str) -> str:
    """A family name that nobody else has."""
    return f"Zq{relation.replace('_', '').title()}"


def a_world() -> World:
    """Make it."""
    here, there = a_site("Alder Reach"), a_site("Quay Street")
    world = World(
        therapist=a_therapist(site=here, name="Runa Achterling"),
        lead=a_lead(site=here, name="Ottoline Brask"),
        prosthetist=a_prosthetist(site=here, name="Ebo Tarn"),
        assistant=an_assistant(site=here, name="Jory Pell"),
        records=a_records_officer(site=here, name="Vesna Holt"),
        here=here,
        there=there,
    )
    carrier = a_therapist(site=there, name="Tamsin Orrey")
    for relation in RELATIONS:
        site = there if relation == "other_site" else here
        person = _person(relation, site)
        episode = an_episode(assigned_to=world.therapist if relation == "own" else carrier, person=person)
        world.episodes[relation] = episode
        world.ids[relation] = _around(world, episode, carrier, relation)
    a_cover(world.episodes["covered"], world.therapist, start=ago(days=1), end=now() + timedelta(days=1))
    a_cover(world.episodes["covered_once"], world.therapist, start=ago(days=9), end=ago(days=2))
    for relation, since in (("emergency", ago(minutes=9)), ("emergency_over", ago(hours=3))):
        period = DateTimeTZRange(since, since + timedelta(hours=1))
        EmergencyAccess.objects.create(
            episode=world.episodes[relation], staff=world.therapist, period=period, reason="A fall on the stairs."
        )
    waits = _person("waiting", there)
    world.waiting = {"person": waits, "referral": a_referral(waits, reason="Zqwaiting wants to walk")}
    return world


def _person(relation: str, site: Site) -> Person:
    word = word_of(relation)
    return a_person(
        site=site,
        given_name="Robin",
        family_name=word,
        phone=f"{word} phone",
        address=f"{word} lane",
        next_of_kin=f"{word} kin",
        born_on=date(1961, 4, 2),
    )


def _planned(episode: Episode, carrier: Staff, word: str, at: datetime) -> dict[str, Any]:
    """What is arranged and asked for an episode."""
    Pause.objects.create(episode=episode, period=(date(2024, 1, 1), date(2024, 1, 3)), reason=f"{word} rested")
    starts = at + timedelta(hours=1)
    visit = Visit.objects.create(
        episode=episode, site=episode.site, staff=carrier, starts_at=starts, note=f"{word} seen"
    )
    review = PlannedReview.objects.create(
        episode=episode, due_on=at.date(), note=f"{word} review", planned_by=carrier, planned_at=at
    )
    Reminder.objects.create(review=review, due_on=at.date(), rung="due", reached_at=at)
    asked = AdjustmentRequest.objects.create(
        episode=episode, setting="alignment", text=f"{word} asks", asked_by=carrier, asked_at=at
    )
    return {"visit_id": visit.pk, "review_id": review.pk, "request_id": asked.pk}


def _from_a_tablet(episode: Episode, sender: Staff, entry: str, at: datetime) -> None:
    """What a tablet had judged otherwise, and what it had sealed."""
    protocol = episode.head.protocol
    judged: dict[str, Any] = {"claimed": {}, "found": [], "core": "1", "digest": protocol.digest, "history": "0" * 64}
    Difference.objects.create(
        episode=episode, entry=entry, number=1, protocol=protocol, sender=sender, found_at=at, **judged
    )
    sealed: dict[str, Any] = {"mark": entry, "key": "1", "enc": b"e", "box": b"b", "digest": entry}
    SealedMark.objects.create(author=sender, episode=episode, brought_by=sender, brought_at=at, **sealed)


def _around(world: World, episode: Episode, carrier: Staff, relation: str) -> dict[str, Any]:
    """One of everything about an episode; the ids by the names that addresses use."""
    word, at = word_of(relation), now()
    writer = world.therapist if relation == "own" else carrier
    attempt = an_attempt(note=f"{word} note", at=ago(minutes=5))
    recorded(writer, episode, a_check(at=ago(minutes=9)), attempt, a_fall(circumstances=f"{word} fell", at=ago(days=1)))
    device = Prosthesis.objects.create(episode=episode, side="left", label=f"{word} limb")
    part = Component.objects.create(
        prosthesis=device, kind="foot", description=f"{word} foot", period=(at.date(), None)
    )
    Weight.objects.create(person=episode.person, kg=71, measured_on=at.date())
    planned = _planned(episode, carrier, word, at)
    late = {
        "episode": episode,
        "sender": carrier,
        "received_at": at,
        "door": "api",
        "raw": f'{{"note": "{word} late"}}',
    }
    held = HeldEntry.objects.create(**late, entry=device.pk, reason="late")
    refused = RefusedEntry.objects.create(**late, error=f"{word} refused")
    Deadline.objects.create(
        episode=episode, rule="fall_unreviewed", entry=part.pk, at=at, due_at=at, severity="critical"
    )
    alert = episode.alerts.order_by("pk").first()
    if alert is None:
        alert = episode.alerts.create(
            rule="fall_unreviewed", entry=attempt["id"], severity="critical", happened_at=at, known_at=at
        )
    AlertStep.objects.create(alert=alert, kind="raised", at=at, text=f"{word} step")
    Notice.objects.create(
        staff=carrier,
        episode=episode,
        topic="review.overdue",
        severity="major",
        subject_id="1",
        dedupe_key=f"n{episode.pk}",
        made_at=at,
    )
    _from_a_tablet(episode, carrier, attempt["id"], at)
    LegalHold.objects.create(person=episode.person, reason=f"{word} hold", placed_by=world.lead, placed_at=at)
    future = a_cover(episode, a_therapist(site=episode.site), start=at + timedelta(days=3), end=at + timedelta(days=4))
    return {
        "episode_id": episode.pk,
        "person_id": episode.person_id,
        "prosthesis_id": device.pk,
        "part_id": part.pk,
        "component_id": part.pk,
        **planned,
        "held_id": held.pk,
        "refused_id": refused.pk,
        "entry": attempt["id"],
        "entry_id": attempt["id"],
        "assignment_id": episode.assignments.get().pk,
        "cover_id": future.pk,
        "skill": "don_check",
    }
