"""Walking up to every door and trying it: what was answered, and whether that is a refusal."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from http.cookies import SimpleCookie
from typing import Any

from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from tests.matrix.sending import BODIES, FIELDS, of_operation, of_page, shown_by

METHODS = ("get", "post", "put", "patch", "delete")


@dataclass(frozen=True)
class Door:
    """A route with one of its methods."""

    route: str
    method: str

    @property
    def is_api(self) -> bool:
        """Whether a programme comes in here."""
        return self.route.startswith("api/")

    @property
    def names_a_person(self) -> bool:
        """Whether the address says about whom."""
        return "episode_id" in self.route or "person_id" in self.route

    def address(self, world: dict[str, Any]) -> str:
        """The route, filled with what exists."""
        return re.sub(r"<(?:\w+:)?(\w+)>", lambda found: str(world[found[1]]), self.route)

    def __str__(self) -> str:
        return f"{self.method.upper()} /{self.route}"


def doors(found: list[Any] | None = None, prefix: str = "") -> Iterator[Door]:
    """Every route, with every method that it has: a page can be asked and sent, an operation what its class defines."""
    for one in get_resolver().url_patterns if found is None else found:
        route = prefix + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from doors(one.url_patterns, route)
        elif isinstance(one, URLPattern):
            view = getattr(one.callback, "cls", None)
            methods = [name for name in METHODS if hasattr(view, name)] if view else ["get", "post"]
            yield from (Door(route, method) for method in methods)


def _nothing(world: dict[str, Any]) -> dict[str, Any]:
    return {}


@dataclass(frozen=True)
class Answer:
    """What came back: refused, or something else that is no refusal of the person."""

    status: int
    refused: bool
    said: str


class Walker:
    """Tries doors in one world. What a try writes is taken back before the next."""

    def __init__(self, world: dict[str, Any], specification: dict[str, Any], everything: Client) -> None:
        self.world, self._specification, self._everything = world, specification, everything
        self._forms: dict[str, dict[str, Any]] = {}

    def reads_every_form(self) -> None:
        """Before anybody comes who will be gone again: a form that offers them would offer nobody afterwards."""
        for door in doors():
            self.sent(door)

    def sent(self, door: Door) -> Any:
        """What goes with it."""
        if door.method == "get":
            return None
        if door.route in BODIES:
            return BODIES[door.route](self.world)
        if door.is_api:
            path = "/" + re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", door.route)
            operation = self._specification["paths"].get(path, {}).get(door.method, {})
            return of_operation(operation, self._specification["components"]["schemas"], self.world)
        if door.route not in self._forms:
            with taken_back():
                made = of_page(self._everything, door.address(self.world))
            self._forms[door.route] = made | FIELDS.get(door.route, _nothing)(self.world)
        return self._forms[door.route]

    def tries(self, browser: Client, actor: Staff, door: Door) -> Answer:
        """Try one door as whoever this browser belongs to."""
        address, sent = f"/{door.address(self.world)}", self.sent(door)
        sent = shown_by(actor, sent) if sent else sent
        signed_in = {name: morsel.value for name, morsel in browser.cookies.items()}  # a sign-out drops them
        with taken_back():
            if door.is_api or door.route in BODIES:
                body = json.dumps(sent) if sent is not None else ""
                headers = {"If-Match": '"1"', "Accept": "application/json"}
                answer: Any = browser.generic(
                    door.method.upper(), address, body, content_type="application/json", headers=headers
                )
            else:
                answer = getattr(browser, door.method)(address, sent)
            said = (b"".join(answer) if answer.streaming else answer.content)[:3000].decode(errors="replace")
            found = Answer(answer.status_code, _is_refusal(actor, answer), said)
        browser.cookies = SimpleCookie(signed_in)
        return found


def _is_refusal(actor: Staff, answer: Any) -> bool:
    """Told to sign in, not found, or not theirs. A 403 is also the answer to a wrong code: the trail tells them
    apart."""
    if answer.status_code in (301, 302):
        return "/sign-in/" in answer["Location"]
    if answer.status_code == 403:
        return TrailRow.objects.filter(actor=actor, verb="access.refused").exists()
    return answer.status_code in (401, 404)


class taken_back(transaction.Atomic):  # noqa: N801 - reads as what it does
    """What is written inside is taken back at its end, whether or not services want to be the outermost transaction."""

    def __init__(self) -> None:
        super().__init__(using=None, savepoint=True, durable=False)
        self._from_testcase = True

    def __exit__(self, kind: Any, value: Any, trace: Any) -> None:
        transaction.set_rollback(True)
        super().__exit__(kind, value, trace)
