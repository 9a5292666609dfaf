"""3,000 requests over HTTP, to pages and API, signed in as several roles and as a stranger: no answer is a fault.

The requests go over a socket to a server that runs the whole programme as `clinic.wsgi` gives it (Django's own server
for tests would serve files of its own at every address). Addresses come from the address table, bodies
from the conformance set and from each page's own form; both are then changed.
"""

from __future__ import annotations

import http.client
import json
import re
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from random import Random
from typing import Any
from urllib.parse import quote_from_bytes, urlencode
from wsgiref.simple_server import WSGIRequestHandler, make_server

import pytest
from django.conf import settings
from django.db import connections
from django.test import Client
from knox.models import AuthToken

from api.fuzz import seeds
from api.fuzz.mutate import TEXTS, Mutator, as_query, spoiled
from clinic.wsgi import application
from tests.web.conftest import enter
from tests.web.test_every_address import world
from tests.world import patterns

__all__ = ["enter", "world"]
REQUESTS, SEED = 3_000, 20261125
TIMES = 4  # that a request may be cut off
# Ending one's own session or account in the middle would leave the rest of the requests at the door.
LEFT_OUT = re.compile(r"sign-out|sign_out|tokens/current|/end/?$|/end_|password")
HEADERS = (
    *("Accept", "Accept-Language", "If-Match", "If-None-Match", "Range", "Referer", "Origin", "X-Forwarded-For"),
    *("HX-Request", "X-Requested-With", "X-HTTP-Method-Override", "Content-Encoding", "Expect", "Idempotency-Key"),
)
METHODS = ("GET",) * 9 + ("POST",) * 9 + ("PUT", "PATCH", "DELETE", "HEAD", "OPTIONS", "TRACE")


class Browser:
    """Makes requests that no browser would, over a socket of its own."""

    def __init__(self, port: int, headers: dict[str, str]) -> None:
        self._place = ("127.0.0.1", port)
        self._headers = headers

    def ask(self, method: str, target: str, body: bytes, headers: dict[str, str]) -> tuple[int, str, bytes]:
        """Status, media type and body of the answer.

        A server that answers before it has read all of a body closes the connection, and what the machine still had to
        deliver can be lost with it: such a request is made again. One that is cut off each time is a fault.
        """
        for _ in range(TIMES - 1):
            try:
                return self._once(method, target, body, headers)
            except ConnectionError:
                continue
        return self._once(method, target, body, headers)

    def _once(self, method: str, target: str, body: bytes, headers: dict[str, str]) -> tuple[int, str, bytes]:
        connection = http.client.HTTPConnection(*self._place, timeout=30)
        try:
            connection.putrequest(method, target, skip_accept_encoding=True)
            for name, value in {**self._headers, **headers, "Content-Length": str(len(body))}.items():
                connection.putheader(name, value.encode("utf-8", "replace"))
            connection.endheaders(body)
            answer = connection.getresponse()
            return answer.status, answer.headers.get("Content-Type", ""), answer.read()
        finally:
            connection.close()


class Requests:
    """What is sent, made from one number each."""

    def __init__(self, world: dict[str, Any]) -> None:
        found = seeds.load()
        self._entries = found.entries
        self._mutator = Mutator([*found.histories, {key: str(value) for key, value in world.items()}])
        self._routes = [route for route, _ in patterns() if not LEFT_OUT.search(route) and "static" not in route]
        self._world = world

    def make(self, rng: Random) -> tuple[str, str, bytes, dict[str, str]]:
        """Method, target, body, headers."""
        route = rng.choice(self._routes)
        target = "/" + re.sub(r"<(?:\w+:)?(\w+)>", lambda match: self._part(match[1], rng), route)
        if rng.random() < 0.35:
            target += (
                "?" + urlencode(as_query(self._fields(rng)), doseq=True, errors="replace")[:6_000]
            )  # a longer one: 414
        if rng.random() < 0.04:
            target = quote_from_bytes(spoiled(target.encode("utf-8", "replace"), rng)[:2_000], safe="/?&=%")
            target = "/" + target.lstrip("/")
        body, headers = self._body(rng)
        for name in rng.sample(HEADERS, rng.choice((0, 0, 0, 1, 2))):
            headers[name] = re.sub(r"[\r\n\0]", "", str(rng.choice(TEXTS)))[:300]
        return rng.choice(METHODS), target, body, headers

    def _part(self, name: str, rng: Random) -> str:
        if rng.random() < 0.85 and name in self._world:
            return str(self._world[name])
        return quote_from_bytes(str(rng.choice(TEXTS))[:200].encode("utf-8", "replace"), safe="")

    def _fields(self, rng: Random) -> dict[str, Any]:
        names = rng.sample((*FIELDS,), rng.choice((1, 2, 4, 8)))
        return {name: self._mutator.something(rng, name) for name in names}

    def _body(self, rng: Random) -> tuple[bytes, dict[str, str]]:
        chance = rng.random()
        if chance < 0.45:
            filled = urlencode(as_query(self._fields(rng)), doseq=True, errors="replace").encode()
            return filled, {"Content-Type": "application/x-www-form-urlencoded"}
        value: Any = self._fields(rng)
        if chance < 0.65:
            value = {"entries": [self._mutator.changed(rng.choice(self._entries), rng) for _ in range(3)]}
        elif chance < 0.75:
            value = {"details": self._fields(rng), **self._fields(rng)}
        body = json.dumps(value).encode()
        if rng.random() < 0.3:
            body = spoiled(body, rng)
        kind = (
            "application/json"
            if rng.random() < 0.9
            else rng.choice(("text/plain", "multipart/form-data; boundary=x", "a"))
        )
        return body, {"Content-Type": kind}


# names that forms and shapes of the programme have, so that what is sent is looked at
FIELDS = (
    *("entries", "details", "text", "reason", "note", "at", "skill", "support", "help", "result", "version", "state"),
    *(
        "username",
        "password",
        "code",
        "username_of",
        "named",
        "closed",
        "before",
        "cursor",
        "limit",
        "actor",
        "about",
        "verb",
    ),
    *("first", "last", "staff_id", "site_id", "therapist_id", "episode_id", "starts_at", "ends_at", "day", "first_day"),
    *("last_day", "due_on", "kg", "measured_on", "minutes", "kind", "description", "side", "label", "role", "feature"),
    *("starts_on", "expires_on", "number", "name", "email", "given_name", "family_name", "born_on", "urgency", "level"),
    *(
        "features",
        "pending",
        "digest",
        "countersign",
        "setting",
        "value",
        "up_to",
        "next",
        "minutes_per_week",
        "outcome",
    ),
)


@contextmanager
def served() -> Iterator[int]:
    """The programme behind a socket, in a thread and with a database connection of its own; its port."""

    class Quiet(WSGIRequestHandler):
        def log_message(self, *args: Any) -> None:
            """Nothing."""

    server = make_server("127.0.0.1", 0, application, handler_class=Quiet)

    def serve() -> None:
        server.serve_forever(poll_interval=0.05)
        connections.close_all()

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def who(world: dict[str, Any], enter: Any, port: int) -> dict[str, Browser]:
    """Somebody of each role by session, two by token, and a stranger."""
    found = {"stranger": Browser(port, {})}
    for role in ("lead", "therapist", "bench", "assistant", "records"):
        client: Client = enter(world[role])
        client.get("/password/")  # a page with a form: it gives the token that a form must bring back
        cookies = "; ".join(f"{name}={morsel.value}" for name, morsel in client.cookies.items())
        token = client.cookies[settings.CSRF_COOKIE_NAME].value
        found[role] = Browser(port, {"Cookie": cookies, "X-CSRFToken": token})
    for role in ("lead", "therapist"):
        made = AuthToken.objects.create(user=world[role])[1]
        found[f"{role} by token"] = Browser(port, {"Authorization": f"Token {made}"})
    return found


def _is_problem(status: int, kind: str, said: bytes) -> bool:
    """Every refusal of the API is a problem (RFC 9457), whatever was sent."""
    return kind.startswith("application/problem+json") and json.loads(said)["status"] == status


@pytest.mark.slow
@pytest.mark.timeout(600)
@pytest.mark.django_db(transaction=True)
def test_three_thousand_requests_get_no_fault(world: dict[str, Any], enter: Any) -> None:
    requests, statuses, faults = Requests(world), Counter[int](), []
    with served() as port:
        browsers = who(world, enter, port)
        names = sorted(browsers)
        for number in range(REQUESTS):
            rng = Random(SEED * 1_000_003 + number)
            name = rng.choice(names)
            method, target, body, headers = requests.make(rng)
            status, kind, said = browsers[name].ask(method, target, body, headers)
            statuses[status] += 1
            if status >= 500 and not target.startswith("/health"):  # 503 is what that is for: nothing beats in a test
                faults.append((number, name, method, target[:200], status, body[:200]))
            if (
                target.startswith("/api/")
                and status >= 400
                and method != "HEAD"
                and not _is_problem(status, kind, said)
            ):
                faults.append((number, name, method, target[:200], status, said[:200]))
    assert not faults, "\n".join(map(repr, faults))
    assert sum(statuses.values()) == REQUESTS
    # deep enough: pages were shown, things were done, forms were refused, rights were missing
    assert statuses[200] > 200, statuses
    assert all(statuses[status] for status in (302, 400, 403, 404, 405)), statuses
