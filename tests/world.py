"""One of everything that an address can name, and every address that the programme has, for tests that walk them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.urls import URLPattern, URLResolver, get_resolver

from caseload.emergency.models import EmergencyAccess
from caseload.emergency.services import open_emergency
from caseload.episode.models import Episode
from caseload.prosthesis.services import fit_component, register_prosthesis
from caseload.request.services import ask_adjustment
from caseload.review.services import plan_review
from caseload.visit.models import Visit
from checklists.judged.services import judge_again
from checklists.keeping.asking import ask_correction
from checklists.keeping.giving import ask_archive
from checklists.keeping.models import Erasure
from checklists.keeping.services import place_hold
from checklists.models import Difference, Entry, HeldEntry, RefusedEntry
from clinic.access import Assurance
from clinic.staff import sessions
from clinic.staff.factors.models import Factor
from clinic.staff.models import Staff
from clinic.watch.alarms import raise_alarm
from clinic.watch.models import Alarm
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
    a_tablet,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    now,
    recorded,
)
from tests.sealing import a_sealed_mark

EVIL = '<script>alert("1")</script><img src=x onerror=alert(1)>'


def patterns(found: list[Any] | None = None, prefix: str = "") -> Iterator[tuple[str, str]]:
    """Every route with the name of its page (empty where it has none)."""
    for one in get_resolver().url_patterns if found is None else found:
        if isinstance(one, URLResolver):
            yield from patterns(one.url_patterns, prefix + str(one.pattern))
        elif isinstance(one, URLPattern):
            yield prefix + str(one.pattern), one.name or ""


def an_alarm() -> UUID:
    """Something that the server found and a lead has to look at."""
    raise_alarm("disk", EVIL, at=now(), key="disk")
    return Alarm.objects.values_list("pk", flat=True).get(key="disk")


def judged_differently(episode: Episode, sender: Staff, entry: str) -> UUID:
    """A tablet said of an entry what the server does not."""
    row = Entry.objects.get(id=entry)
    before = Entry.objects.filter(episode=episode, number__lt=row.number).order_by("number")
    ids = [str(one) for one in before.values_list("id", flat=True)]
    lie = {"after": 0, "with": ids, "alerts": [["made_up", entry, "minor"]], "core": EVIL}
    judge_again({"episode": str(episode.pk), "sender": str(sender.pk), "judged": {entry: lie}}, now())
    return Difference.objects.values_list("pk", flat=True).get(entry=entry)


def in_an_emergency(episode: Episode) -> EmergencyAccess:
    """Somebody else reads it now, and said why."""
    person = episode.person
    asked = {"number": person.number, "family_name": person.family_name, "reason": EVIL}
    return open_emergency(actor=a_therapist(), **asked)


def what_is_kept(episode: Episode, officer: Staff, target: UUID) -> dict[str, UUID]:
    """Somebody says that an entry is wrong; the record is held, asked for as a file, and asked to be erased."""
    asked = ask_correction(actor=officer, episode_id=episode.pk, target=target, text=EVIL, asked_by=EVIL)
    gone: dict[str, Any] = {"ground": EVIL, "reason": EVIL, "asked_by": officer, "asked_at": now()}
    return {
        "correction_id": asked.entry,
        "hold_id": place_hold(actor=officer, person_id=episode.person_id, reason=EVIL).pk,
        "archive_id": ask_archive(actor=officer, person_id=episode.person_id, why=EVIL).pk,
        "erasure_id": Erasure.objects.create(person=episode.person, **gone).pk,
    }


def a_world() -> dict[str, Any]:
    """One of everything, about somebody whose name and notes are markup: ids by the names that addresses give them,
    and a member of staff of each role."""
    a_site("Quay Street")  # somewhere to move to
    therapist, lead, bench = a_therapist(name=EVIL), a_lead(), a_prosthetist()
    person = a_person(given_name=EVIL, family_name=EVIL, called=EVIL, next_of_kin=EVIL, address=EVIL)
    episode = an_episode(assigned_to=therapist, person=person)
    attempt = an_attempt(note=EVIL, at=ago(minutes=5))
    fall = a_fall(circumstances=EVIL, action=EVIL, at=ago(days=5))
    facts = [a_check(note=EVIL, at=ago(days=6)), fall, attempt, a_fall(injury=EVIL), an_attempt(at=ago(days=9))]
    strike = an_entry("struck_out", entry=facts[0]["id"], reason=EVIL)
    recorded(therapist, episode, *facts, strike)
    device = register_prosthesis(actor=bench, episode_id=episode.pk, side="left", label=EVIL)
    part = fit_component(actor=bench, prosthesis_id=device.pk, kind="foot", description=EVIL)
    asked = ask_adjustment(actor=therapist, episode_id=episode.pk, setting="resistance", text=EVIL)
    due = plan_review(actor=therapist, episode_id=episode.pk, due_on=now().date() + timedelta(days=2), note=EVIL)
    cover = a_cover(episode, a_therapist(), start=now() + timedelta(days=3), end=now() + timedelta(days=4))
    starts = now() + timedelta(hours=1)
    visit = Visit.objects.create(episode=episode, site=episode.site, staff=therapist, starts_at=starts, minutes=45)
    officer = a_records_officer()
    return {
        "therapist": therapist,
        "lead": lead,
        "bench": bench,
        "assistant": an_assistant(),
        "records": officer,
        **what_is_kept(episode, officer, UUID(attempt["id"])),
        "episode_id": episode.pk,
        "other_episode_id": an_episode(assigned_to=therapist).pk,
        "reference": episode.reference,
        "person_id": person.pk,
        "site_id": episode.site_id,
        "staff_id": therapist.pk,
        "alarm_id": an_alarm(),
        "difference_id": judged_differently(episode, therapist, str(attempt["id"])),
        "emergency_id": in_an_emergency(episode).pk,
        "referral_id": a_referral(a_person(given_name=EVIL), reason=EVIL).pk,
        "request_id": asked.pk,
        "review_id": due.pk,
        "visit_id": visit.pk,
        "assignment_id": episode.assignments.get().pk,
        "cover_id": cover.pk,
        "prosthesis_id": device.pk,
        "component_id": part.pk,
        "part_id": part.pk,
        "held_id": HeldEntry.objects.get().pk,
        "refused_id": RefusedEntry.objects.get().pk,
        "entry": Entry.objects.get(id=attempt["id"]).id,
        "entry_id": attempt["id"],
        "term_id": therapist.role_terms.get().pk,
        "authorisation_id": therapist.authorisations.all()[0].pk,
        "registration_id": therapist.registrations.all()[0].pk,
        "factor_id": Factor.objects.filter(staff=therapist).values_list("pk", flat=True)[0],
        "tablet_id": a_tablet().pk,
        "session_id": sessions.begin(therapist, Assurance.PASSWORD, at=now()).pk,
        "mark_id": a_sealed_mark(therapist, episode, by=lead).pk,
        "skill": "don_check",
    }


def addresses(world: dict[str, Any]) -> list[tuple[str, str]]:
    """Every route filled with what exists."""
    found = []
    for route, name in patterns():
        filled = re.sub(r"<(?:\w+:)?(\w+)>", lambda m: str(world.get(m[1], f"missing-{m[1]}")), route)
        assert "missing-" not in filled, f"the world of this test has nothing for {route}"
        if not re.search(r"[\\^$(]", filled):
            found.append((filled, name))
    return found
