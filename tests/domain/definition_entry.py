"""One entry, by itself: what SEMANTICS.md section 1 says of a single fact (naive reference implementation)."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Any

from tests.domain.definition_words import (
    COMMON,
    COMMON_REQUIRED,
    DEFAULTS,
    FEATURES,
    FIELDS,
    RAILS_OF_TWO,
    REQUIRED,
    instant,
    is_date,
    is_integer,
    is_number,
    is_uuid,
    same,
)


class EntryRefused(Exception):
    """The text begins with the name of a field at fault and a colon."""


def _need(truth: bool, field: str, why: str) -> None:
    if not truth:
        raise EntryRefused(f"{field}: {why}")


def parse(sent: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    """The entry with its defaults filled in, as a replay reads it; raises EntryRefused."""
    kind = sent.get("kind")
    _need("kind" in sent, "kind", "missing")
    _need(isinstance(kind, str) and kind in FIELDS, "kind", "unknown")
    fields = {**COMMON, **FIELDS[str(kind)]}
    for name in sent:
        _need(name in fields, name, "unknown field")
        _need(sent[name] is not None, name, "null")
    for name in COMMON_REQUIRED + REQUIRED.get(str(kind), []):
        _need(name in sent, name, "missing")
    entry = {**deepcopy(DEFAULTS.get(str(kind), {})), "seq": 0, **deepcopy(sent)}
    for name, value in entry.items():
        _field(name, value, fields[name], entry, document)
    _between_fields(entry)
    if kind in ("fall", "near_miss") and "skill" in entry and entry["skill"] not in document["skills_by_key"]:
        del entry["skill"]  # in a replay: one that names none
    return entry


def _between_fields(entry: dict[str, Any]) -> None:
    if entry["kind"] == "setting_changed":
        if entry["setting"] == "knee":
            _need("features" in entry, "features", "missing with a change of knee")
        else:
            _need("features" not in entry, "features", "only with a change of knee")
    if entry["kind"] == "review":
        if entry["of"]:
            _need("outcome" in entry, "outcome", "missing where falls were looked at")
        else:
            _need("outcome" not in entry, "outcome", "only where falls were looked at")
    if entry["kind"] == "correction_answered":
        if entry["answer"] == "declined":
            _need(entry["struck"] == [], "struck", "not where it is declined")
            _need(entry["added"] == [], "added", "not where it is declined")
        if entry["struck"] == [] and entry["added"] == []:
            _need("reason" in entry, "reason", "missing where nothing was struck out or added")


# What a field holds -> whether a value is that, and what is said where it is not.
_PLAIN: dict[str, tuple[Callable[[Any], bool], str]] = {
    "kind": (lambda value: isinstance(value, str), "not a text"),
    "text": (lambda value: isinstance(value, str), "not a text"),
    "uuid": (is_uuid, "not a UUID in lower case"),
    "instant": (lambda value: instant(value) is not None, "not an instant"),
    "date": (is_date, "not a date"),
    "integer": (is_integer, "not an integer"),
    "number": (is_number, "not a number"),
    "boolean": (lambda value: isinstance(value, bool), "neither true nor false"),
    "ids": (lambda value: isinstance(value, list) and all(is_uuid(one) for one in value), "not a list of UUIDs"),
}


def _field(name: str, value: Any, holds: Any, entry: dict[str, Any], document: dict[str, Any]) -> None:
    if isinstance(holds, list):
        _need(isinstance(value, str) and value in holds, name, "not one of the list")
    elif holds in _PLAIN:
        is_that, why = _PLAIN[holds]
        _need(is_that(value), name, why)
    elif holds == "features":
        _texts(name, value)
        _need(all(one in FEATURES for one in value), name, "unknown feature")
    elif holds == "override":
        _override(value)
    else:
        _protocol_word(name, value, holds, entry, document)


def _texts(name: str, value: Any) -> None:
    _need(isinstance(value, list) and all(isinstance(one, str) for one in value), name, "not a list of texts")


def _override(value: Any) -> None:
    _need(isinstance(value, dict), "override", "not an object")
    _need(set(value) == {"by", "reason"}, "override", "has by and reason")
    _need(all(isinstance(text, str) for text in value.values()), "override", "not a text")


def _protocol_word(name: str, value: Any, holds: str, entry: dict[str, Any], document: dict[str, Any]) -> None:
    """Words that the protocol lists."""
    skills = document["skills_by_key"]
    if holds == "deviations":
        _texts(name, value)  # an unknown one is kept in a replay, and matches nothing
        return
    if holds == "measures":  # so is an unknown measure
        _need(isinstance(value, dict) and all(is_number(one) for one in value.values()), name, "not finite numbers")
        return
    if holds == "steps":
        _steps(value, entry, document)
        return
    _need(isinstance(value, str), name, "not a text")
    if holds == "skill":
        _need(value in skills or entry["kind"] in ("fall", "near_miss"), name, "unknown skill")
    elif holds == "check":
        _need(value in document["checks_by_key"], name, "unknown check")
    elif holds == "support":
        _need(value in document["support"] or value in RAILS_OF_TWO, name, "unknown support")
    elif holds == "help":
        _need(value in document["help"], name, "unknown help")
    elif holds == "rung":
        skill = skills.get(entry.get("skill"))
        if skill is not None:  # an unknown skill is refused by itself
            known = skill["rungs"] + skill.get("both", {}).get("rungs", [])
            _need(value in known, name, "not a rung of the skill")


def _steps(value: Any, entry: dict[str, Any], document: dict[str, Any]) -> None:
    _need(isinstance(value, dict), "steps", "not an object")
    _need(all(isinstance(one, bool) for one in value.values()), "steps", "neither true nor false")
    check = document["checks_by_key"].get(entry["name"]) if isinstance(entry["name"], str) else None
    if check is not None:
        _need(all(step in check["steps"] for step in value), "steps", "unknown step")


def same_content(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Equal as sent: JSON after defaults, `role` left out, `at` as text, numbers by value."""

    def content(sent: dict[str, Any]) -> dict[str, Any]:
        filled = {"seq": 0, **DEFAULTS.get(sent["kind"], {}), **sent}
        return {name: value for name, value in filled.items() if name != "role"}

    return same(content(one), content(other))
