"""Facts in bulk: a few simulated courses of careful people, copied under ids and references of their own."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from checklists.demo.course import careful_course
from checklists.demo.session import Walker
from checklists.domain import Protocol

A_COURSE = 500  # facts of one episode
BEGINS = date(2024, 3, 4)


@dataclass(frozen=True, slots=True)
class Course:
    """One simulated course: each fact as a text, with the id and the reference that a copy replaces."""

    side: str
    reference: str
    facts: list[dict[str, Any]]
    texts: list[tuple[str, str]]


def courses(protocol: Protocol, *, facts: int = A_COURSE, different: int = 8) -> list[Course]:
    """Courses that differ in luck, the last of somebody with two prostheses."""
    made = []
    for number in range(different):
        side = "both" if number == different - 1 else ("left", "right")[number % 2]
        walker = Walker(f"template-{number:04}", side, skill=0.90 + 0.01 * number)
        whole = careful_course(protocol, walker, f"bench {number}", begins=BEGINS, facts=facts)[:facts]
        texts = [(fact["id"], json.dumps(fact, separators=(",", ":"), sort_keys=True)) for fact in whole]
        made.append(Course(side, walker.episode, whole, texts))
    return made


def copy_of(course: Course, number: int) -> list[tuple[str, str]]:
    """The course once more, as (id, text), under a reference of its own."""
    reference = reference_of(number)
    fresh = [f"{number:08x}-0000-4000-8000-{place:012x}" for place in range(len(course.texts))]
    return [
        (new, text.replace(old, new).replace(course.reference, reference))
        for new, (old, text) in zip(fresh, course.texts, strict=True)
    ]


def reference_of(number: int) -> str:
    """How the bench names an episode."""
    return f"bench-{number:08}"


def lines(made: list[Course], facts: int) -> Iterator[str]:
    """At least so many facts as lines of a history, one episode after the other."""
    given = number = 0
    while given < facts:
        for _, text in copy_of(made[number % len(made)], number):
            yield text
            given += 1
        number += 1


def write_history(path: Path, made: list[Course], facts: int) -> None:
    """A history file, as `manage.py replay` takes it."""
    with path.open("w", encoding="utf-8") as file:
        for text in lines(made, facts):
            file.write(text + "\n")
