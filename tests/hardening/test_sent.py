"""What may be sent at all: which methods, how much, no files."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from clinic.models import Staff
from tests.makers import PASSWORD, a_lead, a_therapist, an_episode

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


@pytest.mark.parametrize("method", ["TRACE", "CONNECT", "PROPFIND", "TRACK", "X" * 300])
@pytest.mark.parametrize("address", ["/sign-in/", "/api/v1/people/"])
def test_a_method_that_nobody_serves(method: str, address: str) -> None:
    """ASVS V13.4.4: nothing is sent back."""
    answer = Client().generic(method, address, b"say this again")
    assert answer.status_code == 405
    assert b"say this again" not in answer.content


def test_a_stranger_may_send_little(client: Client) -> None:
    """ASVS V5.2.1: refused by the length that is announced, before a byte is read."""
    much = {"username": "x" * settings.STRANGER_MAX_BYTES, "password": "x"}
    assert client.post("/sign-in/", much).status_code == 413
    answer = client.post("/api/v1/tokens/", much, content_type="application/json")
    assert (answer.status_code, answer.headers["Content-Type"]) == (413, "application/problem+json")


def test_a_form_of_a_page_has_a_bound(enter: Enter) -> None:
    browser, episode = enter(a_lead()), an_episode()
    address = f"/people/{episode.pk}/plan/"
    assert browser.post(address, {"text": "x" * settings.FORM_MAX_BYTES}).status_code == 413


@pytest.mark.parametrize("length", ["-1", "1e9", "99999999999999999999", "0x10", " "])
def test_a_length_that_is_no_number_is_no_way_around(client: Client, length: str) -> None:
    answer = client.generic("POST", "/sign-in/", b"username=a&password=b", CONTENT_LENGTH=length)
    assert answer.status_code < 500


def test_too_many_fields_are_refused(enter: Enter) -> None:
    answer = enter(a_lead()).post("/password/", {f"field{number}": "x" for number in range(1_200)})
    assert answer.status_code == 400


@pytest.mark.parametrize("name", ["record.jsonl", "../../etc/passwd", "a.svg", "x.php\0.jpg"])
def test_no_page_takes_a_file(enter: Enter, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """There is no upload: a file is refused before its first byte is written anywhere, whatever it is called."""

    def written(*args: object, **kwargs: object) -> None:
        raise AssertionError("a file was begun")

    monkeypatch.setattr("tempfile.NamedTemporaryFile", written)
    monkeypatch.setattr("django.core.files.uploadedfile.TemporaryUploadedFile.__init__", written)
    lead = a_lead()
    browser = enter(lead)
    sent = {"old_password": "x", "file": SimpleUploadedFile(name, b"x" * 4_000_000)}
    monkeypatch.setattr(settings, "FORM_MAX_BYTES", 50_000_000)
    assert browser.post("/password/", sent).status_code == 400
    strict = Client(enforce_csrf_checks=True)
    monkeypatch.setattr(settings, "STRANGER_MAX_BYTES", 50_000_000)
    assert strict.post("/sign-in/", sent).status_code in (400, 403)
    assert Staff.objects.get(pk=lead.pk).check_password(PASSWORD)


def test_the_api_takes_json_and_nothing_else(enter: Enter) -> None:
    """ASVS V5.2.2, V1.5: no XML, no form, no file; what is called JSON and is none is refused by its content."""
    therapist = a_therapist()
    browser, episode = enter(therapist), an_episode(assigned_to=therapist)
    address = f"/api/v1/episodes/{episode.pk}/entries/"
    for kind in (
        "application/xml",
        "text/xml",
        "multipart/form-data; boundary=x",
        "application/x-www-form-urlencoded",
        "application/x-yaml",
        "text/plain",
        "application/octet-stream",
    ):
        assert browser.post(address, "<a/>", content_type=kind).status_code == 415, kind
    assert browser.post(address, b"\x89PNG\r\n", content_type="application/json").status_code == 400
