"""Under an https address: cookies of this host alone, the API not led on from plain HTTP, HSTS on everything.

Settings are read as a clinic's own server reads them, in a process of their own.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from functools import cache
from typing import Any

import pytest

from clinic.run.places import ROOT

pytestmark = pytest.mark.slow

ASK = """
import json, sys, django, logging
django.setup()
logging.disable(logging.CRITICAL)
from django.test import Client
def say(path, **more):
    answer = Client(SERVER_NAME="clinic.example", raise_request_exception=False).get(path, **more)
    cookies = [str(morsel.OutputString()) for morsel in answer.cookies.values()]
    body = b"" if answer.streaming else answer.content
    return {"status": answer.status_code, "head": dict(answer.headers), "cookies": cookies, "body": body.decode()}
from django.conf import settings as s
from clinic.web.entrance import LAST
print(json.dumps({
    "page": say("/sign-in/", secure=True),
    "plain page": say("/sign-in/"),
    "plain api": say("/api/v1/schema/", headers={"Authorization": "Token abcdef"}),
    "forwarded": say("/sign-in/", headers={"X-Forwarded-Proto": "https"}),
    "forwarded host": say("/sign-in/", secure=True, headers={"X-Forwarded-Host": "elsewhere.example"}),
    "static": say("/static/clinic/css/base.css", secure=True),
    "names": [s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME, LAST],
}))
"""


@cache
def said(behind_proxy: str = "no") -> dict[str, Any]:
    """What such a server says."""
    surroundings = {
        "PATH": os.environ["PATH"],
        "DJANGO_SETTINGS_MODULE": "clinic.settings",
        "DATABASE_URL": "postgresql://clinic_app:x@127.0.0.1:1/clinic",
        "BROKER_URL": "redis://127.0.0.1:1/0",
        "SECRET_KEY": "k" * 60,
        "PUBLIC_ADDRESS": "https://clinic.example",
        "ALLOWED_HOSTS": "clinic.example",
        "STATIC_HASHED_NAMES": "no",
        "BEHIND_PROXY": behind_proxy,
    }
    answer = subprocess.run(
        [sys.executable, "-c", ASK], env=surroundings, cwd=ROOT, capture_output=True, text=True, timeout=90, check=False
    )
    assert answer.returncode == 0, answer.stderr
    found: dict[str, Any] = json.loads(answer.stdout)
    return found


def test_every_cookie_is_of_this_host_alone() -> None:
    """ASVS V3.3.1 to V3.3.4: the name says that it is Secure, for the whole host, and set by nobody else."""
    assert said()["names"] == ["__Host-sessionid", "__Host-csrftoken", "__Host-last_here"]
    cookies = said()["page"]["cookies"]
    assert cookies
    for cookie in cookies:
        parts = {part.strip().lower() for part in cookie.split(";")}
        assert cookie.startswith("__Host-")
        assert {"secure", "path=/", "samesite=lax"} <= parts
        assert not [part for part in parts if part.startswith("domain")]


@pytest.mark.parametrize("what", ["page", "static"])
def test_a_browser_never_asks_in_plain_text_again(what: str) -> None:
    """ASVS V3.4.1: a year at least, with what lies below the name."""
    parts = said()[what]["head"]["Strict-Transport-Security"].split("; ")
    assert int(parts[0].removeprefix("max-age=")) >= 31_536_000
    assert "includeSubDomains" in parts


def test_a_page_leads_from_http_to_https() -> None:
    page = said()["plain page"]
    assert (page["status"], page["head"]["Location"]) == (301, "https://clinic.example/sign-in/")


def test_the_api_refuses_plain_http_instead_of_leading_on() -> None:
    """ASVS V4.1.2: a programme that sends its token in plain text learns of it."""
    answer = said()["plain api"]
    assert answer["status"] == 403
    assert answer["head"]["Content-Type"] == "application/problem+json"
    assert "Location" not in answer["head"]


def test_nobody_says_https_in_place_of_a_proxy() -> None:
    """ASVS V4.1.3: X-Forwarded-Proto is believed only where a proxy stands in front."""
    assert said()["forwarded"]["status"] == 301
    assert said("yes")["forwarded"]["status"] == 200


def test_nobody_chooses_the_host() -> None:
    for behind_proxy in ("no", "yes"):
        assert "elsewhere.example" not in json.dumps(said(behind_proxy)["forwarded host"])
