"""What a browser is given to work without a network: the worker and its files, the manifest, whose each page is."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import orjson
import pytest
from django.contrib.staticfiles.storage import staticfiles_storage
from django.test import Client

from clinic.web import worker
from tests.makers import a_lead, a_therapist, an_episode

Enter = Callable[..., Client]
ROOT = Path(worker.__file__).parent.parent.parent


@pytest.fixture(autouse=True)
def _anew() -> Iterator[None]:
    worker.files.cache_clear()
    yield
    worker.files.cache_clear()


def told(answer: Any) -> dict[str, Any]:
    """What the worker is begun with."""
    text = answer.content.decode()
    found: dict[str, Any] = orjson.loads(text[text.index("work({") + 5 : text.rindex(")")])
    return found


def test_the_worker_is_open_to_strangers_and_asked_for_anew(client: Client) -> None:
    answer = client.get("/sw.js")
    assert answer.headers["Content-Type"] == "text/javascript; charset=utf-8"
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert answer.headers["ETag"] == f'"{told(answer)["version"]}"'
    assert b'from "/static/clinic/device/worker/main.js"' in answer.content


def test_every_file_of_ours_is_at_hand(client: Client) -> None:
    files = set(told(client.get("/sw.js"))["files"])
    scripts = {
        path.relative_to(ROOT)
        for app in ("clinic", "caseload", "checklists")
        for path in ROOT.glob(f"{app}/static/**/*.js")
    }
    assert {f"/static/{'/'.join(path.parts[2:])}" for path in scripts} <= files
    assert client.get("/static/checklists/floor/main.js").status_code == 200


def test_a_file_that_changes_makes_another_version(monkeypatch: pytest.MonkeyPatch) -> None:
    before = worker.files().version
    worker.files.cache_clear()
    assert worker.files().version == before
    found = dict(worker._found())
    found["clinic/js/shell.js"] = "0" * 64
    monkeypatch.setattr(worker, "_found", lambda: iter(found.items()))
    worker.files.cache_clear()
    assert worker.files().version != before


def test_with_a_manifest_the_names_have_their_digests(monkeypatch: pytest.MonkeyPatch) -> None:
    hashed = {"clinic/js/shell.js": "clinic/js/shell.0123456789ab.js", "rest_framework/x.js": "rest_framework/x.a.js"}
    monkeypatch.setattr(staticfiles_storage, "hashed_files", hashed, raising=False)
    monkeypatch.setattr(staticfiles_storage, "url", lambda name: f"/static/{hashed[name]}")
    assert worker.files().addresses == ("/static/clinic/js/shell.0123456789ab.js",)


def test_the_manifest_has_the_clinics_name_and_icons_of_ours(client: Client, settings: Any) -> None:
    settings.CLINIC_NAME = "Alder Reach"
    answer = client.get("/manifest.webmanifest")
    assert answer.headers["Content-Type"] == "application/manifest+json"
    read = answer.json()
    assert (read["name"], read["start_url"], read["display"]) == ("Alder Reach", "/", "standalone")
    assert [client.get(icon["src"]).status_code for icon in read["icons"]] == [200] * 4


@pytest.mark.django_db
def test_only_pages_for_the_bars_say_whose_they_are(enter: Enter) -> None:
    therapist = a_therapist()
    episode, browser = an_episode(assigned_to=therapist), enter(therapist)
    kept = ("/", "/day-end/", "/paper/", *(f"/{what}/{episode.pk}/" for what in ("floor", "people")))
    for address in kept:
        assert browser.get(address).headers.get("X-Page-Of") == therapist.reference, address
    for address in (
        "/alerts/",
        "/people/",
        "/sessions/",
        f"/people/{episode.pk}/plan/",
        f"/people/{episode.pk}/cleared/",
    ):
        assert "X-Page-Of" not in browser.get(address).headers, address


@pytest.mark.django_db
def test_a_page_that_is_refused_is_nobodys(enter: Enter) -> None:
    episode = an_episode()
    answer = enter(a_therapist()).get(f"/floor/{episode.pk}/")
    assert answer.status_code == 404
    assert "X-Page-Of" not in answer.headers


@pytest.mark.django_db
def test_what_the_worker_shows_by_itself_names_nobody(enter: Enter, client: Client) -> None:
    lead = a_lead(name="Runa Achterling")
    assert b"not on this device" in client.get("/no-signal/").content
    assert b"You are signed out on this device" in client.get("/left/").content
    assert all("X-Page-Of" not in enter(lead).get(address).headers for address in ("/no-signal/", "/left/"))
