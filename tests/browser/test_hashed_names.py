"""With the names that a clinic's server gives to static files (`collectstatic`, digests in the names).

The worker's list holds all that the pages ask for, Today takes its people along, and the Floor opens from the device
with its network cut.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles.handlers import StaticFilesHandlerMixin
from django.contrib.staticfiles.storage import staticfiles_storage
from django.core.management import call_command
from django.http import Http404

from clinic.staff.models import Staff
from clinic.web import worker
from clinic.web.modules import stands_on
from tests.browser.conftest import Enter
from tests.browser.test_offline import of_today, on_device, opened
from tests.makers import a_therapist

pytestmark = pytest.mark.cut_off
HASHED = re.compile(r"/static/.+\.[0-9a-f]{12}\.\w+")
ASKED = """() => performance.getEntriesByType("resource").map((one) => new URL(one.name).pathname)
    .filter((path) => path.startsWith("/static/"))"""
MAIN, SHELL = "checklists/floor/main.js", "clinic/js/shell.js"
NOTHING = """async () => (await fetch("/static/clinic/nothing.0123456789ab.js").catch(() => null)) === null"""
CACHED = """async () => (await Promise.all((await caches.keys()).map(async (name) =>
    (await (await caches.open(name)).keys()).map((request) => new URL(request.url).pathname)))).flat()"""


@pytest.fixture
def hashed(settings: Any, tmp_path: Path) -> Iterator[None]:
    """Collected as a deployment does it, and served from there."""
    settings.STATIC_ROOT = str(tmp_path)
    settings.STORAGES = {**settings.STORAGES, "staticfiles": {"BACKEND": "clinic.web.static_names.HashedNames"}}
    call_command("collectstatic", interactive=False, verbosity=0, ignore_patterns=["rest_framework", "admin"])
    settings.STATICFILES_DIRS = [str(tmp_path)]  # where the server of the tests looks
    worker.files.cache_clear()
    yield
    worker.files.cache_clear()


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.mark.usefixtures("hashed")
def test_a_floor_of_hashed_names_opens_from_the_device(enter: Enter, therapist: Staff) -> None:
    ines = of_today(therapist, "Ines", "Vartholm")
    page = enter(therapist, "/", service_workers="allow")
    on_device(page)
    assert all(HASHED.fullmatch(address) for address in worker.files().addresses)
    cached: list[Any] = page.evaluate(CACHED)
    assert set(worker.files().addresses) <= set(cached)
    page.context.set_offline(True)
    opened(page, ines)
    asked: list[str] = page.evaluate(ASKED)
    assert all(HASHED.fullmatch(path) for path in asked), asked
    assert set(asked) <= set(worker.files().addresses)
    modules = [path for path in asked if path.endswith(".js")]
    assert len(modules) == len(set(modules)), "a module was asked for twice"
    assert set(modules) == {staticfiles_storage.url(name) for name in stands_on(MAIN, SHELL)}
    assert page.evaluate(NOTHING), "what is in no cache has no answer while the network is cut"


@pytest.mark.usefixtures("hashed")
def test_a_file_that_fails_twice_keeps_no_tablet_from_its_worker(
    enter: Enter, therapist: Staff, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One of a hundred files, lost on the way: nobody loads the page again for it."""
    of_today(therapist, "Ines", "Vartholm")
    serve, asked = StaticFilesHandlerMixin.serve, list[str]()

    def twice_not(handler: Any, request: Any) -> Any:
        if MAIN.removesuffix(".js") in request.path:
            asked.append(request.path)
            if len(asked) < 3:
                raise Http404
        return serve(handler, request)

    monkeypatch.setattr(StaticFilesHandlerMixin, "serve", twice_not)
    on_device(enter(therapist, "/", service_workers="allow"))
    assert len(asked) == 3
