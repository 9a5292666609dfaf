"""Walking every address that the programme has, as somebody, about somebody."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.test import Client
from rest_framework.test import APIClient

from tests.fences.world import RELATIONS, World
from tests.world import patterns

AWAY = ("sign_out", "sign_in")  # would end the walk


@dataclass(frozen=True)
class Answer:
    """What came back."""

    address: str
    status: int
    said: str


def addresses(world: World, relation: str) -> list[str]:
    """Every address filled with the ids of one person; those without an id, once."""
    ids = {**world.ids[relation], "referral_id": world.waiting["referral"].pk, "staff_id": world.lead.pk}
    found = []
    for route, name in patterns():
        wanted = re.findall(r"<(?:\w+:)?(\w+)>", route)
        if re.search(r"[\\^$(]", route) or name in AWAY or (not wanted and relation != RELATIONS[0]):
            continue
        filled = re.sub(r"<(?:\w+:)?(\w+)>", lambda m: str(ids.get(m[1], world.ids[relation]["episode_id"])), route)
        found.append(f"/{filled}")
    return found


def walked(browser: Client | APIClient, world: World, relations: tuple[str, ...] = RELATIONS) -> Iterator[Answer]:
    """Ask for everything about everybody; what is sent while it is read is read."""
    for relation in relations:
        for address in addresses(world, relation):
            answer = browser.get(address)
            said = b"".join(answer) if getattr(answer, "streaming", False) else answer.content
            yield Answer(address, answer.status_code, bytes(said).decode(errors="replace"))


def leaks(answers: Iterable[Answer], world: World, out_of_reach: set[str], *, waiting: bool) -> list[tuple[str, str]]:
    """Words about persons out of reach, with the address that said them."""
    marks = {mark for one in out_of_reach for mark in world.marks(one)}
    if waiting:
        marks |= {"Zqwaiting", "ZqWaiting", world.waiting["person"].number}
    return [(one.address, mark) for one in answers for mark in marks if mark in one.said]
