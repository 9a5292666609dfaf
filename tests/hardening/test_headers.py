"""What every answer tells a browser, at every address the programme has.

Which headers: OWASP ASVS 5.0.0, V3.2 to V3.5, V4.1.1, V14.3.2 (read in the published standard).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from tests.hardening.markup import forbidden
from tests.makers import a_lead, a_records_officer
from tests.world import addresses

pytestmark = [pytest.mark.django_db, pytest.mark.slow]
Enter = Callable[..., Client]
OF_A_PAGE = {
    "default-src": "'self'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self'",
    "font-src": "'self'",
    "connect-src": "'self'",
    "manifest-src": "'self'",
    "worker-src": "'self'",
    "media-src": "'none'",
    "frame-src": "'none'",
    "object-src": "'none'",
    "base-uri": "'none'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
    "require-trusted-types-for": "'script'",
    "trusted-types": "worker-address",
}
MAY_SWAP_MARKUP = {"trail", "cover_leave"}  # loads htmx
IS_A_SCRIPT = {"worker"}  # what it may load is said by its own answer
SENDS_NOTHING = {"verify"}  # checks a bundle in the browser
OF_DATA = {
    **dict.fromkeys(("default-src", "base-uri", "form-action", "frame-ancestors", "object-src"), "'none'"),
    "sandbox": "",
}
# RFC 6838: a type and its parameters; text without a character set may be read as anything
TYPE = re.compile(
    r"(text/[\w.+-]+; charset=utf-8"
    r"|application/(json|manifest\+json|problem\+json|zip|octet-stream|vnd\.oai\.openapi.*))"
)


def policy(answer: Any) -> dict[str, str]:
    """Directive → what it allows."""
    parts = [part.strip().partition(" ") for part in answer.headers["Content-Security-Policy"].split(";")]
    return {name: value for name, _, value in parts}


def complaints(answer: Any, name: str) -> list[str]:
    """Everything that is missing or loose in the headers of one answer."""
    head, found = answer.headers, []
    kind = str(head.get("Content-Type", ""))
    page = kind.startswith("text/html")
    wanted = OF_A_PAGE if page or name in IS_A_SCRIPT else OF_DATA
    if page and name in MAY_SWAP_MARKUP and answer.status_code == 200:
        wanted = {key: value for key, value in OF_A_PAGE.items() if "trusted-types" not in key}
    if page and name in SENDS_NOTHING and answer.status_code == 200:
        wanted = OF_A_PAGE | dict.fromkeys(("connect-src", "form-action", "worker-src", "manifest-src"), "'none'")
    if policy(answer) != wanted:
        found.append(f"policy {policy(answer)}")
    for header, value in (
        ("X-Content-Type-Options", "nosniff"),
        ("Referrer-Policy", "same-origin"),
        ("Cross-Origin-Opener-Policy", "same-origin"),
        ("Cross-Origin-Resource-Policy", "same-origin"),
        ("X-Frame-Options", "DENY"),
    ):
        if head.get(header) != value:
            found.append(f"{header}: {head.get(header)}")
    if head["Cache-Control"] not in ("no-store", "private, no-cache", "private, no-store"):
        found.append(f"Cache-Control: {head['Cache-Control']}")
    if head["Cache-Control"] == "private, no-cache" and "ETag" not in head:
        found.append("may be kept without an ETag")
    if "camera=()" not in head.get("Permissions-Policy", ""):
        found.append("Permissions-Policy")
    if [name for name in head if name.lower().startswith("access-control-")]:
        found.append("another origin may read it")
    body = b"".join(answer) if answer.streaming else answer.content
    if body and not TYPE.fullmatch(kind):
        found.append(f"Content-Type: {kind}")
    if page:
        found += forbidden(body.decode())
    return found


@pytest.mark.parametrize("who", ["lead", "therapist", "records", "stranger"])
def test_every_address_answers_with_every_header(enter: Enter, world: dict[str, Any], who: str) -> None:
    """The body is markup without inline script or style, or data that says so; nobody may keep it."""
    browser = Client() if who == "stranger" else enter(world[who])
    found, seen = {}, 0
    for address, name in addresses(world):
        if name == "sign_out":
            continue
        for method in (browser.get, browser.options):
            answer: Any = method(f"/{address}")
            if wrong := complaints(answer, name):
                found[f"{method.__name__} {address}"] = wrong
            seen += 1
    assert found == {}
    assert seen > 100


@pytest.mark.parametrize(
    "address",
    ["/no/such/page/", "/api/v1/nowhere/", "/people/not-a-uuid/", "/static/nothing.js", "/static/", "/static/clinic/"],
)
def test_an_error_has_the_same_headers(enter: Enter, address: str) -> None:
    answer = enter(a_lead()).get(address)
    assert answer.status_code == 404
    assert complaints(answer, "") == []


def test_a_page_with_an_inline_script_would_be_found() -> None:
    """The scan can fail: each of these is a breach."""
    for breach in (
        "<p onclick='x()'>",
        "<p ONMOUSEOVER=x>",
        "<svg onload=x>",
        '<p style="color:red">',
        "<style>p{}</style>",
        "<script>x()</script>",
        "<a href=' javascript:x()'>",
        "<script src='https://elsewhere.example/x.js'></script>",
        "<iframe src='/x'></iframe>",
        "<a href='java\nscript:x()'>",
    ):
        assert forbidden(breach), breach
    assert (
        forbidden("<p class='style'>on<a href='/on/?next=/a'>go</a><script type=module src='/static/a.js'></script>")
        == []
    )


def test_what_is_taken_out_is_a_file_with_a_name_of_our_own(enter: Enter) -> None:
    """ASVS V3.2.1, V5.4.1: a file is offered for saving, under a name that nobody typed."""
    answer = enter(a_records_officer()).post("/trail/export/?about=x%22%0d%0aSet-Cookie:a")
    assert re.fullmatch(r'attachment; filename="trail-[\d-]+\.csv"', answer.headers["Content-Disposition"])
    assert answer.headers["Content-Type"] == "text/csv; charset=utf-8"
    assert policy(answer) == OF_DATA


def test_a_static_file_has_its_type_and_may_be_kept(client: Client) -> None:
    """Nothing personal is in one; it still is framed by nobody and taken for nothing else."""
    answer = client.get("/static/clinic/css/base.css")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == 'text/css; charset="utf-8"'
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert policy(answer)["frame-ancestors"] == "'none'"
    script = client.get("/static/clinic/js/shell.js")
    assert script.headers["Content-Type"].startswith("text/javascript")
    assert policy(script) == OF_A_PAGE
