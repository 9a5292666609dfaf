"""What the Floor's script must know before anything happens: the protocol as this person's ladder sees it. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from checklists.domain import in_bars
from checklists.floor import words
from checklists.floor.measures import places_of, range_words, suffix_of
from checklists.pictures import names
from checklists.pictures.tread import columns, ladder, treads

AT_HAND = 1  # the help a new skill begins with: within reach


def protocol_part(document: Mapping[str, Any], side: str) -> dict[str, Any]:
    """Skills, checks, deviations, measures, support and help of a protocol, for a person with one prosthesis or two."""
    both = side == "both"
    place = {tread.key: number for number, tread in enumerate(treads(document, {}, both=both))}
    skills = sorted(document["skills"], key=lambda skill: place[skill["key"]])
    measures = {measure["key"]: measure for measure in document.get("measures", [])}
    return {
        "support": list(columns(treads(document, {}, both=both), document["support"])),
        "help": document["help"],
        "checks": {check["key"]: check["steps"] for check in document.get("checks", [])},
        "deviations": [
            {**each, "name": names.short(each["key"], each["title"], names.DEVIATIONS)}
            for each in document.get("deviations", [])
        ],
        "measures": [_measure(each, None) for each in measures.values()],
        "skills": [_skill(skill, measures, document, both) for skill in skills],
    }


def _skill(
    skill: Mapping[str, Any], measures: Mapping[str, Any], document: Mapping[str, Any], both: bool
) -> dict[str, Any]:
    proven = ((skill.get("both") or {}).get("proven") if both else None) or skill["proven"]
    asked = proven.get("measures", {})
    return {
        "key": skill["key"],
        "title": skill["title"],
        "name": names.short(skill["key"], skill["title"]),
        "rungs": (rungs := list(ladder(skill, both=both))),
        "in_bars": in_bars(rungs, document["support"]),
        "barred": proven.get("barred", []),
        "measures": [_measure(measures[key], bounds) for key, bounds in asked.items()],
        "help": document["help"][min(AT_HAND, len(document["help"]) - 1)],
    }


def _measure(measure: Mapping[str, Any], bounds: list[float | None] | None) -> dict[str, Any]:
    suffix = suffix_of(measure["unit"])
    return {
        "key": measure["key"],
        "name": words.MEASURES.get(measure["key"]) or names.short(measure["key"], measure["title"]),
        "suffix": suffix,
        "places": places_of(measure["unit"]),
        "range": range_words(bounds, suffix) if bounds else "",
        "low": bounds[0] if bounds else None,
        "high": bounds[1] if bounds else None,
    }
