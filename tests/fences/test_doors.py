"""As whom the database is asked: said by every door, for one piece of work, and never for the next."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from random import Random
from typing import Any

import psycopg
import pytest
from celery import Celery
from django.db import OperationalError, connection, transaction
from django.test import Client
from rest_framework.test import APIClient

from caseload.models import Episode
from clinic import tasks
from clinic.access import standing
from clinic.access.standing import EVERYBODY, NOBODY, present, standing_as
from clinic.celery import app
from clinic.run import door
from clinic.staff.models import Staff
from tests.fences.probe import asked_as
from tests.makers import a_lead, a_therapist, a_token, an_episode, in_through_the_door

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def probed(settings: Any) -> None:
    """The server of tests/fences/probe.py."""
    settings.ROOT_URLCONF = "tests.fences.probe"


def browser_of(staff: Staff) -> Client:
    browser = Client(raise_request_exception=False)
    in_through_the_door(browser, staff)
    return browser


def caller_of(staff: Staff) -> APIClient:
    caller = APIClient(raise_request_exception=False)
    caller.credentials(HTTP_AUTHORIZATION=f"Token {a_token(staff)}")
    return caller


@pytest.mark.django_db
class TestRequests:
    """Pages and the API."""

    def test_a_page_asks_as_who_is_signed_in_and_the_next_as_nobody(self, settings: Any) -> None:
        therapist = a_therapist()
        own, _ = an_episode(assigned_to=therapist), an_episode()
        browser = browser_of(therapist)
        settings.ROOT_URLCONF = "tests.fences.probe"
        assert browser.get("/page").json() == {"actor": str(therapist.pk), "episodes": [str(own.pk)]}
        assert present() is EVERYBODY  # what the test itself stands as
        assert Client().get("/page").json() == {"actor": "", "episodes": []}

    def test_neither_does_a_failure_leave_anybody_standing(self, settings: Any) -> None:
        therapist = a_therapist()
        an_episode(assigned_to=therapist)
        browser = browser_of(therapist)
        settings.ROOT_URLCONF = "tests.fences.probe"
        assert browser.get("/broken").status_code == 500
        assert present() is EVERYBODY
        assert Client().get("/page").json() == {"actor": "", "episodes": []}

    def test_an_answer_that_is_made_while_it_is_read_is_made_as_who_asked(self, settings: Any) -> None:
        therapist, other = a_therapist(), a_lead()
        browser, lead = browser_of(therapist), browser_of(other)
        settings.ROOT_URLCONF = "tests.fences.probe"
        answer = browser.get("/streamed")
        pieces = iter(answer)
        first = next(pieces)
        assert lead.get("/page").json()["actor"] == str(other.pk)  # another request in between
        assert present() is EVERYBODY
        said = [bytes(one).decode().strip() for one in (first, *pieces)]
        assert said == [str(therapist.pk)] * 3
        assert present() is EVERYBODY

    def test_a_token_is_who_it_says_whoevers_session_comes_along(self, settings: Any) -> None:
        therapist, lead = a_therapist(), a_lead()
        caller = APIClient(raise_request_exception=False)
        in_through_the_door(caller, lead)
        caller.credentials(HTTP_AUTHORIZATION=f"Token {a_token(therapist)}")
        settings.ROOT_URLCONF = "tests.fences.probe"
        assert caller.get("/api/v1/programme").json()["actor"] == str(therapist.pk)
        assert present() is EVERYBODY

    def test_a_call_without_a_token_asks_as_nobody(self, settings: Any) -> None:
        an_episode()
        browser = browser_of(a_lead())
        settings.ROOT_URLCONF = "tests.fences.probe"
        assert APIClient().get("/api/v1/anyone").json() == {"actor": "", "episodes": []}
        assert browser.get("/api/v1/anyone").json() == {"actor": "", "episodes": []}

    def test_who_is_signed_in_costs_no_further_question(self, django_assert_num_queries: Any) -> None:
        """The database says with the standing which roles are held: the code's fence does not ask again."""
        therapist = Staff.objects.get(pk=a_therapist().pk)
        with standing_as(therapist), django_assert_num_queries(0):
            assert [str(role) for role in therapist.roles_on(present().at.date())] == ["therapist"]  # type: ignore[union-attr]  # None fails the test as well


@pytest.mark.django_db
class TestTheConnection:
    """It is told before anything is asked as somebody else, and forgets when it must."""

    def test_what_is_rolled_back_is_told_again(self) -> None:
        therapist = a_therapist()
        own = an_episode(assigned_to=therapist)

        def fail(inside: Any, outside: Any) -> None:
            with standing_as(outside), transaction.atomic():
                asked_as()
                with standing_as(inside):
                    assert own in Episode.objects.all()
                    raise ZeroDivisionError

        with pytest.raises(ZeroDivisionError):
            fail(therapist, NOBODY)
        with standing_as(NOBODY):
            assert asked_as() == {"actor": "", "episodes": []}
        with pytest.raises(ZeroDivisionError):
            fail(EVERYBODY, therapist)
        with standing_as(therapist):
            assert asked_as() == {"actor": str(therapist.pk), "episodes": [str(own.pk)]}

    def test_a_statement_that_fails_does_not_keep_anybody_from_rolling_back(self) -> None:
        therapist = a_therapist()
        an_episode()
        with pytest.raises(Exception, match="division by zero"), transaction.atomic(), standing_as(therapist):
            connection.cursor().execute("SELECT 1 / 0")
        assert asked_as()["actor"] == "everybody"

    def test_the_sign_of_life_forgets_who_came_before(self) -> None:
        an_episode()
        assert asked_as()["actor"] == "everybody"
        assert connection.is_usable()
        with standing_as(NOBODY):
            assert asked_as() == {"actor": "", "episodes": []}

    def test_the_write_paths_leave_ends_with_whoever_had_it(self) -> None:
        therapist = a_therapist()
        episode = an_episode(assigned_to=therapist)
        episode.assignments.update(period=("2020-01-01", "2020-02-01"))
        with standing_as(therapist), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SELECT clinic_take_in_hand(%s)", [episode.pk])
            assert cursor.fetchone() == (True,)
            assert asked_as()["episodes"] == [str(episode.pk)]
            with standing_as(a_therapist()):
                assert asked_as()["episodes"] == []


@pytest.mark.django_db(transaction=True)
def test_a_connection_that_breaks_in_the_middle_comes_back_as_nobody_else() -> None:
    therapist = a_therapist()
    own, _ = an_episode(assigned_to=therapist), an_episode()
    with standing_as(therapist):
        assert asked_as()["episodes"] == [str(own.pk)]
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_backend_pid()")
            (pid,) = cursor.fetchone()
        with psycopg.connect(os.environ["TEST_SUPERUSER_URL"]) as other:
            other.execute("SELECT pg_terminate_backend(%s)", [pid])
        with pytest.raises(OperationalError):
            asked_as()
        connection.close()
        assert asked_as() == {"actor": str(therapist.pk), "episodes": [str(own.pk)]}
    connection.close()
    with standing_as(NOBODY):
        assert asked_as() == {"actor": "", "episodes": []}


@pytest.mark.django_db(transaction=True)
def test_whoever_is_told_by_a_transactions_first_statement_is_told_again_after_its_rollback() -> None:
    """That statement begins the transaction, and what it said goes with it."""
    therapist = a_therapist()
    own, _ = an_episode(assigned_to=therapist), an_episode()
    with standing_as(EVERYBODY):
        assert asked_as()["actor"] == "everybody"
        with ExitStack() as until_afterwards:
            with transaction.atomic():
                until_afterwards.enter_context(standing_as(therapist))
                asked_as()
                transaction.set_rollback(True)
            assert asked_as() == {"actor": str(therapist.pk), "episodes": [str(own.pk)]}


def _many(clients: dict[str, Any], seen: dict[str, set[str]], times: int, seed: int, faults: list[str]) -> None:
    """Requests of this thread, all over one connection, each as somebody else."""
    dice = Random(seed)
    try:
        for _ in range(times):
            connection.close_if_unusable_or_obsolete()  # what a server does at the beginning of each request
            name = dice.choice(sorted(clients))
            path = "/api/v1/programme" if name.startswith("token") else "/page"
            answer = clients[name].get(path).json()
            if set(answer["episodes"]) != seen[name]:
                faults.append(f"{name} saw {len(answer['episodes'])} of {len(seen[name])}")
            if dice.random() < 0.05:
                clients[name].get("/broken")
    except Exception as fault:
        faults.append(repr(fault))
    finally:
        connection.close()


@pytest.mark.parametrize("requests", [200, pytest.param(2_400, marks=pytest.mark.slow)])
@pytest.mark.django_db(transaction=True)
@pytest.mark.timeout(300)
def test_threads_and_identities_never_mix(settings: Any, requests: int) -> None:
    """The view asks for all episodes without any filter: what keeps people apart is the database alone."""
    people = [a_therapist() for _ in range(3)]
    own = {one.pk: {str(an_episode(assigned_to=one).pk) for _ in range(2)} for one in people}
    lead, nobody = a_lead(), a_therapist()
    everyone = set().union(*own.values())
    seen: dict[str, set[str]] = {"stranger": set(), "page of nobody's": set(), "page of a lead": everyone}
    made: list[dict[str, Any]] = []
    for _ in range(8):
        clients: dict[str, Any] = {
            "stranger": Client(raise_request_exception=False),
            "page of nobody's": browser_of(nobody),
            "page of a lead": browser_of(lead),
        }
        for number, one in enumerate(people):
            clients |= {f"page {number}": browser_of(one), f"token {number}": caller_of(one)}
            seen |= {f"page {number}": own[one.pk], f"token {number}": own[one.pk]}
        made.append(clients)
    settings.ROOT_URLCONF = "tests.fences.probe"
    faults: list[str] = []
    threads = [
        threading.Thread(target=_many, args=(clients, seen, requests // 8, number, faults))
        for number, clients in enumerate(made)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert faults == []


@pytest.fixture
def as_a_process_that_says_nothing() -> Iterator[None]:
    standing.process_stands_as(NOBODY)
    yield
    standing.process_stands_as(EVERYBODY)


@pytest.mark.django_db
@pytest.mark.usefixtures("as_a_process_that_says_nothing")
class TestProcesses:
    """What is no request."""

    def test_a_process_that_says_nothing_sees_nothing(self) -> None:
        with standing_as(EVERYBODY):
            an_episode()
        assert asked_as() == {"actor": "", "episodes": []}

    def test_the_workers_tasks_act_for_the_programme(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Also where another application of Celery's was made since, which is then the current one."""
        found: list[str] = []
        monkeypatch.setattr(tasks, "drain", lambda: found.append(asked_as()["actor"]))
        tasks.drain_outbox()
        with Celery("another"):
            tasks.drain_outbox()
        app.set_current()
        assert found == ["everybody", "everybody"]
        assert present() is NOBODY

    def test_a_command_on_the_server_acts_for_the_programme(self, monkeypatch: pytest.MonkeyPatch) -> None:
        found: list[standing.Standing] = []
        monkeypatch.setattr("django.core.management.execute_from_command_line", lambda argv: found.append(present()))
        monkeypatch.setattr("signal.signal", lambda *_: None)
        door.run(["manage.py", "export_record"])
        assert found == [EVERYBODY]
        standing.process_stands_as(NOBODY)
        door.run(["manage.py", "migrate"])
        assert found == [EVERYBODY, NOBODY]

    def test_the_web_process_begins_as_nobody(self) -> None:
        code = "import clinic.wsgi; from clinic.access import standing; print(standing.present().who or 'nobody')"
        done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60)
        assert done.stdout.strip() == "nobody", done.stderr


# Where the fence in the database is stepped over, for one question each, with the reason beside it.
BEYOND = {
    "caseload/writes.py": 1,
    "caseload/emergency/services.py": 1,
    "caseload/emergency/selectors.py": 1,
    "caseload/looked/selectors.py": 3,
    "checklists/alerts/news.py": 1,
    "checklists/sealed/bringing.py": 1,
    "checklists/sealed/selectors.py": 1,
    "clinic/watch/look.py": 1,
}
EVERYTHING = {
    "clinic/access/standing.py",
    "clinic/run/door.py",
    "clinic/work.py",
    "checklists/demo/half.py",
}


def test_every_place_that_steps_over_the_fence_is_named_here() -> None:
    found: dict[str, int] = {}
    everything = set()
    for top in ("clinic", "caseload", "checklists", "api"):
        for path in (ROOT / top).rglob("*.py"):
            text, name = path.read_text(), str(path.relative_to(ROOT))
            if name.startswith("checklists/speed/"):  # the bench has a database of its own
                continue
            if many := len(re.findall(r"\bwith beyond\(", text)):
                found[name] = many
            if re.search(r"(standing_as|process_stands_as)\((standing\.)?EVERYBODY", text):
                everything.add(name)
    assert found == BEYOND
    assert everything == EVERYTHING
