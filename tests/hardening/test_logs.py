"""What somebody typed, and what must stay secret, comes out nowhere: not in a log, not in an error page, not by mail.

ASVS V16.2.5, V16.4.1, V16.5.1. Each test plants something and looks for it everywhere it could have gone.
"""

from __future__ import annotations

import io
import json
import logging
import logging.config
import re
from collections.abc import Callable, Iterator

import pytest
from celery import shared_task
from django.conf import settings
from django.core import mail
from django.db import IntegrityError, connection
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path
from pytest_django.fixtures import Settings

from clinic.logs import Discreet, described, discreet
from clinic.models import OutboxRow, Site, Staff
from clinic.outbox.drain import drain
from clinic.urls import handler400, handler403, handler404, handler500
from clinic.urls import urlpatterns as real_urls
from tests.makers import a_site, a_therapist

__all__ = ["handler400", "handler403", "handler404", "handler500"]
Enter = Callable[..., Client]
PLANTED = "Robin Ashdown fell; key hunter2-hunter2"
PIECES = ("Robin", "Ashdown", "hunter2")


def breaks(request: HttpRequest) -> HttpResponse:
    """Fails in four ways at once: typed text in a local variable, in the exception, in its cause, in its notes."""
    typed = f"{PLANTED} {request.POST.get('text', '')}"
    try:
        int(typed)
    except ValueError as cause:
        fault = RuntimeError(f"could not use {typed!r}")
        fault.add_note(typed)
        raise fault from cause
    return HttpResponse()


def doubled(request: HttpRequest) -> HttpResponse:
    """A row that violates a constraint: the database's DETAIL quotes it."""
    Site.objects.create(name=PLANTED)
    Site.objects.create(name=PLANTED)
    return HttpResponse()


urlpatterns = [*real_urls, path("breaks/", breaks), path("doubled/", doubled), path("api/v1/breaks/", breaks)]


@pytest.fixture
def log() -> Iterator[io.StringIO]:
    """What the real configuration writes, of every level."""
    logging.config.dictConfig(settings.LOGGING)
    written = io.StringIO()
    handler = logging.getLogger().handlers[-1]
    assert isinstance(handler, logging.StreamHandler)
    assert isinstance(handler.formatter, Discreet)
    own = logging.StreamHandler(written)
    own.setFormatter(handler.formatter)
    logging.getLogger().addHandler(own)
    yield written
    logging.getLogger().removeHandler(own)


def silent(text: str) -> bool:
    return not [piece for piece in PIECES if piece in text]


@pytest.fixture
def visitor(enter: Enter, settings: Settings) -> Client:
    settings.ROOT_URLCONF = "tests.hardening.test_logs"
    made: Client = enter(a_therapist())
    made.raise_request_exception = False
    return made


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["/breaks/", "/api/v1/breaks/", "/doubled/"])
def test_a_fault_tells_neither_the_page_nor_the_log_what_was_typed(
    visitor: Client, log: io.StringIO, address: str
) -> None:
    answer = visitor.post(address, {"text": "what they typed"})
    assert answer.status_code == 500
    page = answer.content.decode()
    assert silent(page)
    assert not re.search(r"Traceback|RuntimeError|IntegrityError|psycopg|File \"", page)
    said = log.getvalue()
    assert silent(said)
    assert "DETAIL" not in said
    assert "test_logs.py" in said, "the lines of code are what is left to find the fault by"
    assert "RuntimeError" in said or "IntegrityError" in said
    assert mail.outbox == []


@pytest.mark.django_db
def test_a_violated_constraint_is_told_by_its_name(log: io.StringIO) -> None:
    a_site(PLANTED)
    with pytest.raises(IntegrityError) as caught:
        Site.objects.create(name=PLANTED)
    assert "Robin" in str(caught.value), "the driver does say it, or this test shows nothing"
    logging.getLogger("clinic").error("not written: %s", caught.value, exc_info=caught.value)
    assert silent(log.getvalue())
    assert "IntegrityError (23505, " in described(caught.value)
    assert "IntegrityError (23505, " in log.getvalue()


@pytest.mark.django_db
def test_news_that_fails_keeps_no_text_of_its_fault() -> None:
    OutboxRow.objects.create(topic=PLANTED[:60], payload={}, created_at="2020-01-01T00:00Z", due_at="2020-01-01T00:00Z")
    drain()
    assert OutboxRow.objects.get().last_error == "LookupError"


@shared_task(name="tests.breaks")
def _task(text: str) -> None:
    raise ValueError(text)


def test_a_task_that_fails_tells_neither_arguments_nor_text(log: io.StringIO) -> None:
    """Celery's own message quotes both."""
    result = _task.apply(args=(PLANTED,))
    assert result.failed()
    assert "tests.breaks" in log.getvalue()
    assert "ValueError" in log.getvalue()
    assert silent(log.getvalue())


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("cannot reach redis://:hunter2@broker:6379/0", "broker:6379"),
        ("cannot reach postgresql://clinic_app:hunter2@db/clinic", "clinic_app"),
        ("sent Authorization: Token hunter2hunter2", "Authorization"),
        ("asked with password=hunter2&next=/", "next=/"),
        ("{'new_password': 'hunter2', 'n': 1}", "'n': 1"),
        ("SECRET_KEY = hunter2", "SECRET_KEY"),
        ("Cookie: __Host-sessionid=hunter2; other", "other"),
    ],
)
def test_secrets_of_a_known_shape_are_struck_from_any_message(log: io.StringIO, said: str, kept: str) -> None:
    logging.getLogger("somebody.elses").warning(said)
    assert silent(log.getvalue())
    assert kept in log.getvalue()


def test_nobody_writes_a_line_of_their_own_into_the_log(log: io.StringIO) -> None:
    """ASVS V16.4.1: line ends, terminal codes and marks that turn the direction of writing are shown, not obeyed."""
    logging.getLogger("clinic").warning("no page: %s", "/x\r\n2026-01-01 INFO clinic: all is well\x1b[2J\u202e\u2028")
    assert log.getvalue().count("\n") == 1
    assert all(mark not in log.getvalue() for mark in "\r\x1b\u202e\u2028")
    assert discreet("Ångström – ok") == "Ångström – ok"


@pytest.mark.django_db
def test_a_line_end_in_an_address_stays_in_its_line(client: Client, log: io.StringIO) -> None:
    client.get("/no/page%0d%0a2026-01-01T00:00:00Z%20ERROR%20clinic:%20forged")
    assert [line for line in log.getvalue().splitlines() if line.startswith("2026-01-01T00:00:00Z")] == []


def test_each_line_says_when_in_utc_and_where(log: io.StringIO) -> None:
    """ASVS V16.2.1, V16.2.2, V16.2.4: one form, the instant with its offset."""
    logging.getLogger("clinic.part").warning("something")
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z WARNING clinic\.part: something\n", log.getvalue())


def test_a_message_that_does_not_fit_its_arguments_is_told_all_the_same() -> None:
    record = logging.LogRecord("clinic", logging.WARNING, "x.py", 1, "%d of %d", ("x", "y"), None)
    assert Discreet().format(record).endswith("%d of %d")


def test_no_fault_is_sent_by_mail() -> None:
    """Django would mail a faulty request to ADMINS, with what stood in it."""
    logging.config.dictConfig(settings.LOGGING)
    kinds = {
        type(one).__name__ for name in ("", "django", "django.request") for one in logging.getLogger(name).handlers
    }
    assert "AdminEmailHandler" not in kinds
    assert not settings.ADMINS


@pytest.mark.django_db
def test_a_password_that_is_wrong_stands_nowhere(log: io.StringIO, client: Client) -> None:
    staff: Staff = a_therapist()
    client.post("/sign-in/", {"username": staff.username, "password": PLANTED})
    client.post("/sign-in/", {"username": PLANTED, "password": "x"})
    assert silent(log.getvalue())
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*), string_agg(t::text, ' ') FROM clinic_trailrow t")
        count, rows = cursor.fetchone()
    assert count >= 2
    assert silent(rows)
    assert PLANTED not in json.dumps(rows)
