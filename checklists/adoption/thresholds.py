"""Every threshold of a protocol document in words: counts, hours, days, loads, each with its place and source.

Every number of the document and every span of time stands in the list exactly once (a test walks the document beside
it); only its own version is none. Pure: a document in, a list out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

NO_SOURCE = "common practice, no source"
SPAN = re.compile(r"P(?:(\d+)W)?(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?")
UNITS = ("week", "day", "hour", "minute", "second")
COUNTS = {"at_least": "at least", "at_most": "at most"}


@dataclass(frozen=True, slots=True)
class Threshold:
    """One threshold. `place`: where it stands in the document, as in `skills/turns/valid_days`."""

    place: str
    group: str
    what: str
    value: str
    source: str


def thresholds(document: Mapping[str, Any]) -> list[Threshold]:
    """All thresholds, in the order of the document. A source that is not named is the document's own."""
    return [*_general(document), *_of_skills(document), *_of_rules(document)]


def _general(document: Mapping[str, Any]) -> Iterator[Threshold]:
    group, source = "For every skill", _source(document, document)
    gap, review = document.get("gap_days"), document.get("fall_review_days")
    if gap is not None:
        what = "After so long without an attempt the course begins again in the bars"
        yield Threshold("gap_days", group, what, _many(gap, "day"), source)
    if review is not None:
        yield Threshold("fall_review_days", group, "A fall is looked at within", _many(review, "day"), source)


def _of_skills(document: Mapping[str, Any]) -> Iterator[Threshold]:
    measures = {one["key"]: one for one in document.get("measures", ())}
    for skill in document["skills"]:
        place, group, source = f"skills/{skill['key']}", skill["title"], _source(skill, document)
        for asked, path, who in _criteria(skill):
            for what, value, at in _asked(asked, measures):
                yield Threshold(f"{place}/{path}{at}", group, f"{what}{who}", value, source)
        if "valid_days" in skill:
            yield Threshold(
                f"{place}/valid_days", group, "A sign-off holds for", _many(skill["valid_days"], "day"), source
            )


def _criteria(skill: Mapping[str, Any]) -> Iterator[tuple[Mapping[str, Any], str, str]]:
    """The criterion, stage by stage; then that for two prostheses, where it differs."""
    for holder, path, who in ((skill, "proven", ""), (skill.get("both", {}), "both/proven", ", with two prostheses")):
        criterion = holder.get("proven", {})
        if criterion:
            yield {name: value for name, value in criterion.items() if name != "stages"}, path, who
        for number, stage in enumerate(criterion.get("stages", ())):
            yield stage, f"{path}/stages/{number}", who


def _asked(asked: Mapping[str, Any], measures: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """What is asked, how much, and where that stands."""
    where = str(asked.get("support", "")).replace("_", " ")
    if "in_a_row" in asked:
        on = "without support" if where == "none" else f"on: {where}" if where else "in all"
        yield f"Safe attempts in a row, {on}", str(asked["in_a_row"]), "/in_a_row"
    if "days" in asked:
        yield "On so many different days", _many(asked["days"], "day"), "/days"
    for key, bounds in asked.get("measures", {}).items():
        measure = measures.get(key, {"title": key, "unit": ""})
        unit = "" if measure["unit"] == "1" else f" {measure['unit']}"
        for side, word in enumerate(("at least", "at most")):
            if bounds[side] is not None:
                yield measure["title"], f"{word} {bounds[side]:g}{unit}", f"/measures/{key}/{side}"


def _of_rules(document: Mapping[str, Any]) -> Iterator[Threshold]:
    for rule in document.get("rules", ()):
        source = _source(rule, document)
        for path, name, value in numbers(rule, f"rules/{rule['key']}"):
            said = f"{COUNTS[name]} {value}" if name in COUNTS else _span(value) or str(value)
            yield Threshold(path, "Rules", rule["sentence"], said, source)


def numbers(node: object, path: str, name: str = "") -> Iterator[tuple[str, str, Any]]:
    """Every number and span of time below a node of the document: its place, the name it stands under, itself."""
    if isinstance(node, Mapping):
        for key, value in node.items():
            yield from numbers(value, f"{path}/{key}" if path else str(key), str(key))
    elif isinstance(node, list | tuple):
        for number, value in enumerate(node):
            key = value.get("key", number) if isinstance(value, Mapping) else number
            yield from numbers(value, f"{path}/{key}", name)
    elif (isinstance(node, int | float) and not isinstance(node, bool)) or (isinstance(node, str) and _span(node)):
        yield path, name, node


def _span(text: object) -> str:
    """A span of time as ISO 8601 writes it, in words: PT4H → 4 hours. Nothing for what is none."""
    found = SPAN.fullmatch(text) if isinstance(text, str) else None
    if found is None:
        return ""
    return ", ".join(_many(int(many), unit) for many, unit in zip(found.groups(), UNITS, strict=True) if many)


def _many(number: float, unit: str) -> str:
    return f"{number:g} {unit}" if number == 1 else f"{number:g} {unit}s"


def _source(part: Mapping[str, Any], document: Mapping[str, Any]) -> str:
    said = str(part.get("source") or document.get("source") or NO_SOURCE)
    return NO_SOURCE if said.startswith(NO_SOURCE) else said
