"""The browser's worker that answers without a network, and what makes the programme one that can be installed.

The worker is one line that names our script and the static files to have at hand. Other files are another version: the
browser compares the bytes of this answer, and fetches anew what changed.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import orjson
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles.finders import get_finders
from django.contrib.staticfiles.storage import staticfiles_storage
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from clinic.web.shell import WAYS, address_of

MAIN = "clinic/device/worker/main.js"
OURS = ("clinic/", "caseload/", "checklists/")
KINDS = (".css", ".js", ".svg", ".png", ".woff2")
INK, PAPER = "#123a35", "#f4efe4"  # of the bar around an installed programme and of its first screen: tokens.css
ICONS = (  # file, sizes, purpose
    ("icon.svg", "any", "any"),
    ("icon-192.png", "192x192", "any"),
    ("icon-512.png", "512x512", "any"),
    ("icon-full-512.png", "512x512", "maskable"),
)


@dataclass(frozen=True, slots=True)
class Files:
    """The addresses of the static files that our pages are made of, and a digest of them with their content."""

    addresses: tuple[str, ...]
    version: str


@cache
def files() -> Files:
    """Once in a process: what is served changes only with a new one."""
    found = dict(sorted(_found()))
    addresses = tuple(staticfiles_storage.url(name) for name in found)
    told = "\n".join(f"{address} {found[name]}" for address, name in zip(addresses, found, strict=True))
    return Files(addresses, hashlib.sha256(told.encode()).hexdigest()[:16])


def _is_ours(name: str) -> bool:
    return name.startswith(OURS) and name.endswith(KINDS)


def _found() -> Iterator[tuple[str, str]]:
    """Each file with its name in the manifest, which has the digest of its content in it; else with its digest."""
    hashed: dict[str, str] | None = getattr(staticfiles_storage, "hashed_files", None)
    if hashed is not None:
        yield from ((name, made) for name, made in hashed.items() if _is_ours(name))
        return
    for finder in get_finders():
        for name, storage in finder.list([]):
            if _is_ours(name):
                with storage.open(name) as content:
                    yield name, hashlib.sha256(content.read()).hexdigest()


@login_not_required
@require_safe
def worker(request: HttpRequest) -> HttpResponse:
    """The worker's script: a few bytes, asked for again whenever a page is opened."""
    known = files()
    told = {
        "version": known.version,
        "statics": settings.STATIC_URL,
        "files": known.addresses,
        "pages": {"noSignal": reverse("no_signal"), "left": reverse("left_device")},
        "doors": {"signOut": reverse("sign_out"), "handOver": reverse("hand_over")},
        "hours": settings.SESSION_HOURS,
    }
    body = f'import {{ work }} from "{static(MAIN)}";\n\nwork({orjson.dumps(told).decode()});\n'
    response = HttpResponse(body, content_type="text/javascript; charset=utf-8")
    response["ETag"] = f'"{known.version}"'
    return response


@login_not_required
@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """What a browser shows of the programme once it is installed."""
    icons = [
        {"src": static(f"clinic/icons/{name}"), "sizes": sizes, "purpose": purpose, "type": _type(name)}
        for name, sizes, purpose in ICONS
    ]
    told = {
        "id": "/",
        "name": settings.CLINIC_NAME,
        "short_name": settings.CLINIC_NAME[:12],
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "theme_color": INK,
        "background_color": PAPER,
        "icons": icons,
    }
    response = HttpResponse(orjson.dumps(told), content_type="application/manifest+json")
    response["ETag"] = f'"{files().version}"'
    return response


def _type(name: str) -> str:
    return "image/svg+xml" if name.endswith(".svg") else "image/png"


@login_not_required
@require_safe
def no_signal(request: HttpRequest) -> HttpResponse:
    """Shown by the worker in place of a page that is not on the device while the server is not in reach."""
    names = [*((address_of(way.name), str(way.title)) for way in WAYS), ("/floor/", _("the Floor"))]
    return render(request, "device/no_signal.html", {"hours": settings.SESSION_HOURS, "names": names})


@login_not_required
@require_safe
def left_device(request: HttpRequest) -> HttpResponse:
    """Shown by the worker after somebody signed out without a network."""
    return render(request, "device/left.html")
