"""Every address that the programme has, walked by everybody: asking changes nothing but the trail, whoever is shown
leaves a row, no stranger comes in, and a name is text whatever is in it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any
from uuid import UUID

import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from psycopg import sql

from clinic.audit.models import TrailRow
from clinic.models import Staff
from tests.makers import (
    PASSWORD,
    a_code,
)
from tests.world import a_world, addresses

pytestmark = [pytest.mark.django_db, pytest.mark.slow]
Enter = Callable[..., Client]
SEEN = ("person.opened", "plan.opened", "person.printed", "person.taken")
# Forms that show no more of a person than the two identifiers over them; polls of a page whose opening left its row.
NO_ROW = {
    *("floor_state", "floor_others", "plan_weight", "plan_visits", "visit_state", "plan_review", "put_off_review"),
    *("cancel_review", "ask_adjustment", "reword_request", "pause_episode", "transfer_episode", "reassign", "cover"),
    *("end_cover", "register_prosthesis", "edit_prosthesis", "fit_component", "remove_component", "answer_alert"),
    "correct_component",
    *("withdraw_sign_off", "place_hold", "ask_archive", "ask_erasure", "paper_enter"),
}
DIGEST = "SELECT md5(coalesce(string_agg(t::text, chr(10) ORDER BY t::text), '')) FROM {} t"
# What changes by itself: the trail, the session's own clock, and the expiry of a token that is used.
OF_THE_DOOR = {"clinic_trailrow", "django_session", "knox_authtoken", "clinic_staffsession"}
OF_ANYBODY = re.compile("/handover/|/taken-over/|^tablet/")  # an empty list; led on to somewhere else
OPEN = re.compile(
    r"^(sign-in/|language/|verify/|tablet/|health|static/|api/v1/tokens/|api/v1/schema/|ready|live|robots|favicon"
    r"|sw\.js|manifest\.webmanifest|no-signal/|left/)"
)


@pytest.fixture
def world() -> dict[str, Any]:
    """One of everything, about somebody whose name and notes are markup."""
    return a_world()


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
        assert answer.status_code < 500 or name == "health", address  # an alarm is open in this world
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
