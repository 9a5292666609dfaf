"""What a page says when it refuses, and what that leaves in the trail."""

from __future__ import annotations

from collections.abc import Callable
from uuid import uuid4

import pytest
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path
from pytest_django.fixtures import Settings

from clinic.errors import Conflict, Denied, NotFound, Stale
from clinic.models import TrailRow
from clinic.urls import handler400, handler403, handler404, handler500
from clinic.urls import urlpatterns as real_urls
from tests.makers import a_lead, a_therapist

__all__ = ["handler400", "handler403", "handler404", "handler500"]
pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
REFUSALS = {
    "conflict": Conflict("Those days are taken.", reasons=["Runa has them."]),
    "stale": Stale("Somebody else changed it."),
    "denied": Denied("Not yours to do."),
    "not_found": NotFound("Nothing that you may see."),
}


def refuse(request: HttpRequest, episode_id: object, how: str) -> HttpResponse:
    raise REFUSALS[how]


def breaks(request: HttpRequest) -> HttpResponse:
    raise ZeroDivisionError


def database_gone(request: HttpRequest) -> HttpResponse:
    raise OperationalError("server closed the connection unexpectedly")


urlpatterns = [
    *real_urls,
    path("refuse/<uuid:episode_id>/<how>/", refuse),
    path("breaks/", breaks),
    path("gone/", database_gone),
]


@pytest.fixture(autouse=True)
def _own_addresses(settings: Settings) -> None:
    settings.ROOT_URLCONF = "tests.web.test_refusals"


@pytest.mark.parametrize(("how", "status"), [("conflict", 409), ("stale", 412), ("denied", 403), ("not_found", 404)])
def test_a_refusal_is_a_page_with_its_sentence_and_status(enter: Enter, how: str, status: int) -> None:
    answer = enter(a_therapist()).get(f"/refuse/{uuid4()}/{how}/")
    assert answer.status_code == status
    assert REFUSALS[how].sentence in answer.content.decode()


def test_a_refusal_tells_its_reasons(enter: Enter) -> None:
    assert "Runa has them." in enter(a_therapist()).get(f"/refuse/{uuid4()}/conflict/").content.decode()


def test_a_page_that_swaps_fragments_gets_a_plate_and_no_second_page(enter: Enter) -> None:
    answer = enter(a_therapist()).get(f"/refuse/{uuid4()}/conflict/", headers={"hx-request": "true"})
    assert "note-check" in answer.content.decode()
    assert "<html" not in answer.content.decode()


@pytest.mark.parametrize("how", ["denied", "not_found"])
def test_refused_access_to_an_episode_leaves_a_row(enter: Enter, how: str) -> None:
    staff, wanted = a_therapist(), uuid4()
    enter(staff).get(f"/refuse/{wanted}/{how}/")
    row = TrailRow.objects.get(verb="access.refused")
    assert (row.actor, row.subject, row.subject_id, row.episode) == (staff, "episode", str(wanted), wanted)
    assert row.detail["code"] == how


def test_what_merely_contradicts_is_no_refused_access(enter: Enter) -> None:
    enter(a_therapist()).get(f"/refuse/{uuid4()}/conflict/")
    assert not TrailRow.objects.filter(verb="access.refused").exists()


def test_a_page_of_another_role_is_refused_and_in_the_trail(enter: Enter) -> None:
    staff = a_therapist()
    assert enter(staff).get("/staff/").status_code == 403
    assert TrailRow.objects.get(verb="access.refused").actor == staff


def test_an_address_that_no_page_has_says_so_in_our_look(enter: Enter) -> None:
    answer = enter(a_therapist()).get("/no/such/page/")
    assert answer.status_code == 404
    assert "There is no page at this address" in answer.content.decode()


def test_a_fault_of_ours_is_a_page_that_tells_no_details(enter: Enter) -> None:
    browser = enter(a_therapist())
    browser.raise_request_exception = False
    answer = browser.get("/breaks/")
    assert answer.status_code == 500
    assert "Something broke here" in answer.content.decode()
    assert "ZeroDivisionError" not in answer.content.decode()


def test_a_database_that_is_gone_is_said_and_the_page_looks_again_by_itself(enter: Enter) -> None:
    answer = enter(a_therapist()).get("/gone/")
    assert (answer.status_code, answer["Retry-After"]) == (503, "10")
    assert "The database does not answer, or" in answer.content.decode()
    assert "js/again.js" in answer.content.decode()


def test_what_was_typed_when_the_database_went_stays_on_the_page(enter: Enter) -> None:
    answer = enter(a_therapist()).post("/gone/", {"text": "typed with care", "password": "a secret"})
    page = answer.content.decode()
    assert 'value="typed with care"' in page
    assert "a secret" not in page
    assert "js/again.js" not in page


def test_the_database_gone_before_anybody_is_known_is_said_too(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_session(*args: object, **kwargs: object) -> None:
        raise OperationalError("connection refused")

    client.cookies["sessionid"] = "x" * 32
    client.raise_request_exception = False
    monkeypatch.setattr("django.contrib.sessions.backends.db.SessionStore.load", no_session)
    answer = client.get("/staff/")
    assert answer.status_code == 503
    assert "The database does not answer, or" in answer.content.decode()


def test_pages_are_stored_nowhere_and_framed_by_nobody(enter: Enter) -> None:
    answer = enter(a_lead()).get("/staff/")
    assert answer["Cache-Control"] == "no-store"
    assert answer["X-Frame-Options"] == "DENY"
    assert "script-src 'self'" in answer["Content-Security-Policy"]
    assert "unsafe" not in answer["Content-Security-Policy"]
