"""Every address that the programme has, walked by everybody: asking changes nothing but the trail, whoever is shown
leaves a row, no stranger comes in, and a name is text whatever is in it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver
from psycopg import sql

from caseload.prosthesis.services import fit_component, register_prosthesis
from caseload.request.services import ask_adjustment
from caseload.review.services import plan_review
from caseload.visit.models import Visit
from checklists.models import Entry, HeldEntry, RefusedEntry
from clinic.access import Assurance
from clinic.audit.models import TrailRow
from clinic.models import Staff
from clinic.staff import sessions
from tests.makers import (
    PASSWORD,
    a_check,
    a_code,
    a_cover,
    a_fall,
    a_lead,
    a_person,
    a_prosthetist,
    a_records_officer,
    a_referral,
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

pytestmark = [pytest.mark.django_db, pytest.mark.slow]
Enter = Callable[..., Client]
EVIL = '<script>alert("1")</script><img src=x onerror=alert(1)>'
SEEN = ("person.opened", "plan.opened", "person.printed")
# Forms that show no more of a person than the two identifiers over them; polls of a page whose opening left its row.
NO_ROW = {
    *("floor_state", "floor_others", "plan_weight", "plan_visits", "visit_state", "plan_review", "put_off_review"),
    *("cancel_review", "ask_adjustment", "reword_request", "pause_episode", "transfer_episode", "reassign", "cover"),
    *("end_cover", "register_prosthesis", "edit_prosthesis", "fit_component", "remove_component", "answer_alert"),
    "withdraw_sign_off",
}
DIGEST = "SELECT md5(coalesce(string_agg(t::text, chr(10) ORDER BY t::text), '')) FROM {} t"
# What changes by itself: the trail, the session's own clock, and the expiry of a token that is used.
OF_THE_DOOR = {"clinic_trailrow", "django_session", "knox_authtoken", "clinic_staffsession"}
OF_ANYBODY = re.compile("/handover/|/taken-over/|^tablet/")  # an empty list; led on to somewhere else
OPEN = re.compile(
    r"^(sign-in/|tablet/(?!hand-over)|health|static/|api/v1/tokens/|api/v1/schema/|ready|live|robots|favicon)"
)


def patterns(found: list[Any] | None = None, prefix: str = "") -> Iterator[tuple[str, str]]:
    """Every route with the name of its page (empty where it has none)."""
    for one in get_resolver().url_patterns if found is None else found:
        if isinstance(one, URLResolver):
            yield from patterns(one.url_patterns, prefix + str(one.pattern))
        elif isinstance(one, URLPattern):
            yield prefix + str(one.pattern), one.name or ""


@pytest.fixture
def world() -> dict[str, Any]:
    """One of everything, about somebody whose name and notes are markup."""
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
    return {
        "therapist": therapist,
        "lead": lead,
        "bench": bench,
        "assistant": an_assistant(),
        "records": a_records_officer(),
        "episode_id": episode.pk,
        "person_id": person.pk,
        "staff_id": therapist.pk,
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
        "tablet_id": a_tablet().pk,
        "session_id": sessions.begin(therapist, Assurance.PASSWORD, at=now()).pk,
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


def state() -> dict[str, str]:
    """What stands in every table, as one digest each."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename FROM pg_tables WHERE schemaname = 'public'")
        tables = sorted({name for (name,) in cursor.fetchall()} - OF_THE_DOOR)
        found = {}
        for table in tables:
            cursor.execute(sql.SQL(DIGEST).format(sql.Identifier(table)))
            found[table] = cursor.fetchone()[0]
    return found


@pytest.mark.parametrize("role", ["lead", "therapist", "bench", "assistant", "records"])
def test_asking_changes_nothing_and_no_name_is_markup(enter: Enter, world: dict[str, Any], role: str) -> None:
    actor: Staff = world[role]
    browser = enter(actor)
    before, answers = state(), 0
    for address, name in addresses(world):
        if name in ("sign_out", "sign_in"):
            continue
        seen = TrailRow.objects.filter(actor=actor, verb__in=SEEN).count()
        answer = browser.get(f"/{address}")
        assert answer.status_code < 500, address
        said = b"".join(answer) if answer.streaming else answer.content
        if "html" in answer.headers.get("Content-Type", ""):
            assert b"<script>alert" not in said, address
            assert b"<img src=x" not in said, address
        answers += answer.status_code == 200
        shows = str(world["episode_id"]) in address or str(world["person_id"]) in address
        if answer.status_code == 200 and shows and name not in NO_ROW:
            assert TrailRow.objects.filter(actor=actor, verb__in=SEEN).count() == seen + 1, address
        if answer.status_code in (403, 404) and shows:
            assert TrailRow.objects.filter(actor=actor, verb="access.refused").exists(), address
    assert state() == before
    assert answers > 5


def test_nobody_comes_in_without_a_name(world: dict[str, Any]) -> None:
    browser = Client()
    for address, _ in addresses(world):
        if not OPEN.match(address):
            for method in (browser.get, browser.post):
                answer = method(f"/{address}")
                away = answer.status_code == 302 and "/sign-in/" in answer.headers["Location"]
                assert away or answer.status_code in (401, 403, 405), (address, answer.status_code)


def test_no_form_is_taken_without_the_token_of_its_page(world: dict[str, Any]) -> None:
    browser = Client(enforce_csrf_checks=True)
    browser.get("/sign-in/")
    token = browser.cookies[settings.CSRF_COOKIE_NAME].value
    lead: Staff = world["lead"]
    given = {"username": lead.username, "password": PASSWORD, "csrfmiddlewaretoken": token}
    assert browser.post("/sign-in/", given)["Location"] == "/sign-in/second/"
    given = {"one_time_code": a_code(lead), "csrfmiddlewaretoken": browser.cookies[settings.CSRF_COOKIE_NAME].value}
    assert browser.post("/sign-in/second/", given).status_code == 302
    before = state()
    for address, name in addresses(world):
        if name not in ("sign_in",) and not address.startswith("api/v1/tokens/"):
            answer = browser.post(f"/{address}", {"reason": "x", "text": "x"}, headers={"Origin": "https://elsewhere"})
            assert answer.status_code in (403, 405), (address, answer.status_code)
    assert state() == before


def test_a_uuid_of_nobody_is_not_found(enter: Enter, world: dict[str, Any]) -> None:
    nobody = {key: UUID(int=7) for key in world if key.endswith("_id")}
    browser = enter(world["lead"])
    for address, _ in addresses({**world, **nobody, "entry": UUID(int=7)}):
        if str(UUID(int=7)) in address and not OF_ANYBODY.search(address):
            answer = browser.get(f"/{address}")
            assert answer.status_code in (403, 404, 405), (address, answer.status_code)
