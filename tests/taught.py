"""Somebody who was taught a skill as the protocol has it: everything that it builds on, each support in its turn, and
the signature. For tests of what holds only when the core agrees."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from checklists.pictures.tread import reach
from checklists.record import protocols
from clinic.staff.models import Staff
from tests.makers import ago, an_attempt, an_entry, now


def taught(staff: Staff, *skills: str, days: int = 5) -> list[dict[str, Any]]:
    """The facts of it, in the order of the protocol; the last of a skill `days` ago."""
    document = protocols.loaded(protocols.current(now()).pk).document
    known = {skill["key"]: skill for skill in document["skills"]}
    facts: list[dict[str, Any]] = []
    wanted = set(skills)
    while more := {one for key in wanted for one in known[key].get("after", ())} - wanted:
        wanted |= more
    begun = ago(days=days, hours=2)
    for skill in (one for one in document["skills"] if one["key"] in wanted):
        rungs = skill["rungs"][: skill["rungs"].index(reach(skill, both=False)) + 1]
        for rung in rungs:
            facts.append(an_attempt(skill["key"], rung, by=staff, at=begun + timedelta(seconds=10 * len(facts))))
        signed = begun + timedelta(seconds=10 * len(facts))  # facts of one instant would come in any order
        facts.append(an_entry("sign_off", by=staff, at=signed, skill=skill["key"]))
    return facts
