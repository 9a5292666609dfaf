"""Each fence alone: with the code's filter taken out nothing leaks, and neither with the database's turned off."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from rest_framework.test import APIClient

from clinic.access import Action, standing
from clinic.access.policy import POLICY
from clinic.staff.roles import Role
from tests.fences.walking import Answer, leaks, walked
from tests.fences.world import RELATIONS, World
from tests.makers import a_token, in_through_the_door

pytestmark = pytest.mark.django_db
slow = pytest.mark.slow
Door = Callable[[World, str], Client]
NARROW = ("therapist", "assistant")  # whose reach is not the whole clinic


def page(world: World, role: str) -> Client:
    """A browser, come in through the door."""
    browser = Client(raise_request_exception=False)
    assert in_through_the_door(browser, world.staff[role]).status_code == 302
    return browser


def api(world: World, role: str) -> APIClient:
    """A programme with a token."""
    caller = APIClient(raise_request_exception=False)
    caller.credentials(HTTP_AUTHORIZATION=f"Token {a_token(world.staff[role])}")
    return caller


def test_the_roles_that_are_walked_are_those_with_a_narrow_reach() -> None:
    everywhere = {role for role, reach in POLICY[Action.SEE_PERSON].items() if str(reach) == "all"}
    assert everywhere == {Role.CLINIC_LEAD, Role.PROSTHETIST}
    assert set(Role) - everywhere == {Role.THERAPIST, Role.ASSISTANT, Role.RECORDS_OFFICER}


def _walk(world: World, role: str, door: Door) -> list[Answer]:
    """Everything about one of their own and about everybody who is out of their reach."""
    return list(walked(door(world, role), world, ("own", *sorted(set(RELATIONS) - world.in_reach(role)))))


def _leaks(answers: list[Answer], world: World, role: str) -> list[tuple[str, str]]:
    return leaks(answers, world, set(RELATIONS) - world.in_reach(role), waiting=True)


@slow
@pytest.mark.parametrize("door", [page, api])
@pytest.mark.parametrize("role", NARROW)
def test_without_the_codes_filter_nothing_leaks(world: World, no_filter_in_code: None, role: str, door: Door) -> None:
    answers = _walk(world, role, door)
    assert _leaks(answers, world, role) == []
    assert sum(one.status == 200 and bool(world.said_in(one.said, "own")) for one in answers) > 5
    assert len(answers) > 200


def test_without_the_codes_filter_a_therapist_opens_nobody_elses(world: World, no_filter_in_code: None) -> None:
    answers = list(walked(page(world, "therapist"), world, ("other_site",)))
    assert leaks(answers, world, {"other_site"}, waiting=True) == []
    assert len(answers) > 50


@slow
@pytest.mark.parametrize("stranger", [Client, APIClient])
def test_without_the_codes_filter_a_stranger_sees_an_empty_house(
    world: World, no_filter_in_code: None, stranger: type[Client]
) -> None:
    answers = walked(stranger(raise_request_exception=False), world, ("own", "other_site"))
    assert leaks(answers, world, set(RELATIONS), waiting=True) == []


@slow
@pytest.mark.parametrize("door", [page, api])
@pytest.mark.parametrize("role", NARROW)
def test_without_the_databases_fence_the_codes_filter_holds(
    no_fence_in_the_database: None, world: World, role: str, door: Door
) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM pg_class WHERE relrowsecurity")
        assert cursor.fetchone() == (0,)
    answers = _walk(world, role, door)
    assert _leaks(answers, world, role) == []
    assert sum(one.status == 200 and bool(world.said_in(one.said, "own")) for one in answers) > 5


@slow
def test_a_walk_that_leaks_is_noticed(world: World, no_filter_in_code: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both fences down at once: then the walk must find what it looks for."""
    monkeypatch.setattr(standing, "present", lambda: standing.EVERYBODY)
    answers = walked(page(world, "therapist"), world, ("other_site",))
    assert len(leaks(answers, world, {"other_site"}, waiting=True)) > 20
