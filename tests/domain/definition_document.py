"""The protocol document: SEMANTICS.md section 2 and the refusals of formulas (naive reference implementation)."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

from tests.domain.definition_words import (
    BESIDE,
    BUILT_IN,
    FEATURES,
    FIELDS,
    RAILS_OF_TWO,
    SETTINGS,
    SEVERITIES,
    is_integer,
    is_number,
    seconds,
)

OPTIONAL_TEXTS = ["source", "note"]


class DocumentRefused(Exception):
    """`place` is the path to the fault: keys and positions."""

    def __init__(self, place: list[str | int], reason: str) -> None:
        super().__init__(f"{place}: {reason}")
        self.place, self.reason = place, reason


def need(truth: bool, place: list[str | int], reason: str) -> None:
    if not truth:
        raise DocumentRefused(place, reason)


def check_document(sent: Any) -> dict[str, Any]:
    """The document with its defaults filled in, and its skills and checks by key; raises DocumentRefused.

    What its formulas say is checked by definition_formula_words.
    """
    document = _fields(
        deepcopy(sent),
        [],
        required=["key", "version", "title", "support", "help", "skills"],
        defaults={"gap_days": 28, "fall_review_days": 4, "deviations": [], "measures": [], "checks": [], "rules": []},
        optional=OPTIONAL_TEXTS,
    )
    for name in ["key", "title"]:
        need(isinstance(document[name], str), [name], "not a text")
    for name in ["version", "gap_days", "fall_review_days"]:
        need(is_integer(document[name]) and document[name] >= 0, [name], "not an integer of 0 or more")
    for name in ["support", "help"]:
        _words(document[name], [name])
        need(document[name] != [], [name], "empty")
        need(len(set(document[name])) == len(document[name]), [name], "a repetition")
    for name in RAILS_OF_TWO:
        need(name not in document["support"], ["support"], f"{name} may not stand here")
    for name in ["deviations", "measures", "checks", "skills", "rules"]:
        need(isinstance(document[name], list), [name], "not a list")
    _listed(document)
    document["skills"] = [_skill(skill, document, at) for at, skill in enumerate(document["skills"])]
    document["rules"] = [_rule(rule, at) for at, rule in enumerate(document["rules"])]
    for name in ["deviations", "measures", "checks", "skills", "rules"]:
        keys = [one["key"] for one in document[name]]
        for at, key in enumerate(keys):
            need(key not in keys[:at], [name, at, "key"], "used twice")
    document["skills_by_key"] = {skill["key"]: skill for skill in document["skills"]}
    document["checks_by_key"] = {check["key"]: check for check in document["checks"]}
    _prerequisites(document)
    return document


def _fields(
    value: Any, place: list[str | int], *, required: list[str], optional: list[str], defaults: dict[str, Any]
) -> dict[str, Any]:
    need(isinstance(value, dict), place, "not an object")
    for name in value:
        need(name in required or name in optional or name in defaults, [*place, name], "unknown field")
    for name in required:
        need(name in value, [*place, name], "missing")
    for name in OPTIONAL_TEXTS:
        need(isinstance(value.get(name, ""), str), [*place, name], "not a text")
    return {**deepcopy(defaults), **value}


def _words(value: Any, place: list[str | int], known: list[str] | None = None) -> None:
    need(isinstance(value, list), place, "not a list")
    for at, one in enumerate(value):
        need(isinstance(one, str), [*place, at], "not a text")
        need(known is None or one in known, [*place, at], "unknown")


def _listed(document: dict[str, Any]) -> None:
    """Deviations, measures and checks."""
    for name, required, defaults in [
        ("deviations", ["key", "title"], {}),
        ("measures", ["key", "title", "unit"], {}),
        ("checks", ["key", "title", "steps"], {"per_knee": False}),
    ]:
        for at, one in enumerate(document[name]):
            place: list[str | int] = [name, at]
            document[name][at] = filled = _fields(
                one, place, required=required, defaults=defaults, optional=OPTIONAL_TEXTS
            )
            for text in ["key", "title", "unit"]:
                need(isinstance(filled.get(text, ""), str), [*place, text], "not a text")
            if name == "checks":
                _words(filled["steps"], [*place, "steps"])
                need(len(set(filled["steps"])) == len(filled["steps"]), [*place, "steps"], "a repetition")
                need(isinstance(filled["per_knee"], bool), [*place, "per_knee"], "neither true nor false")


def _skill(sent: Any, document: dict[str, Any], at: int) -> dict[str, Any]:
    place: list[str | int] = ["skills", at]
    skill = _fields(
        sent,
        place,
        required=["key", "title", "rungs", "proven"],
        defaults={"after": [], "needs": [], "tags": [], "falls_back_on": []},
        optional=["both", "valid_days", "watch", *OPTIONAL_TEXTS],
    )
    for name in ["key", "title"]:
        need(isinstance(skill[name], str), [*place, name], "not a text")
    _words(skill["after"], [*place, "after"])
    _words(skill["needs"], [*place, "needs"], FEATURES)
    _words(skill["tags"], [*place, "tags"])
    _words(skill["falls_back_on"], [*place, "falls_back_on"], SETTINGS)
    _words(skill.get("watch", []), [*place, "watch"])
    if "valid_days" in skill:
        days = skill["valid_days"]
        need(is_integer(days) and days >= 1, [*place, "valid_days"], "not an integer of 1 or more")
    _ladder(skill["rungs"], document["support"], [*place, "rungs"])
    skill["proven"] = _proven(skill["proven"], skill["rungs"], document, [*place, "proven"])
    if "both" in skill:
        skill["both"] = _both(skill, document, [*place, "both"])
    sided = any(rung in ("contralateral_rail", "ipsilateral_rail") for rung in skill["rungs"])
    need(not sided or "rungs" in skill.get("both", {}), [*place, "both"], "a rail of one side needs both.rungs")
    return skill


def _ladder(rungs: Any, order: list[str], place: list[str | int]) -> None:
    _words(rungs, place, order)
    need(rungs != [], place, "empty")
    need(len(set(rungs)) == len(rungs), place, "a repetition")
    need(rungs == [rung for rung in order if rung in rungs], place, "not in the order of support")


def _both(skill: dict[str, Any], document: dict[str, Any], place: list[str | int]) -> dict[str, Any]:
    both = _fields(skill["both"], place, required=[], defaults={}, optional=["rungs", "proven"])
    need(both != {}, place, "neither rungs nor proven")
    rungs = skill["rungs"]
    if "rungs" in both:
        order = [rung for rung in document["support"] if rung not in ("contralateral_rail", "ipsilateral_rail")]
        if "contralateral_rail" in document["support"]:
            stands = document["support"].index("contralateral_rail")
            before = [rung for rung in document["support"][:stands] if rung in order]
            order = before + RAILS_OF_TWO + [rung for rung in order if rung not in before]
        _ladder(both["rungs"], order, [*place, "rungs"])
        rungs = both["rungs"]
    if "proven" in both:
        both["proven"] = _proven(both["proven"], rungs, document, [*place, "proven"])
    else:
        for stage in skill["proven"]["stages"]:
            need(stage["support"] in rungs, [*place, "rungs"], "proven does not fit these rungs")
    return both


def _proven(sent: Any, rungs: list[str], document: dict[str, Any], place: list[str | int]) -> dict[str, Any]:
    """Always with `stages`, whichever way it was written."""
    stage_fields = ["support", "in_a_row", "days", "help"]
    defaults: dict[str, Any] = {"barred": [], "measures": {}}
    need(isinstance(sent, dict), place, "not an object")
    if "stages" in sent:
        proven = _fields(sent, place, required=["stages"], defaults=defaults, optional=[])
        need(isinstance(proven["stages"], list) and proven["stages"] != [], [*place, "stages"], "not a list, or empty")
        places: list[list[str | int]] = [[*place, "stages", at] for at in range(len(proven["stages"]))]
    else:
        proven = _fields(sent, place, required=[], defaults=defaults, optional=stage_fields)
        proven["stages"] = [{name: proven.pop(name) for name in stage_fields if name in proven}]
        places = [place]
    stages = []
    for stage, where in zip(proven["stages"], places, strict=True):
        filled = _fields(stage, where, required=["support", "in_a_row"], defaults={"days": 1}, optional=["help"])
        need(filled["support"] in rungs, [*where, "support"], "not one of the rungs")
        for name in ["in_a_row", "days"]:
            need(is_integer(filled[name]) and filled[name] >= 1, [*where, name], "not an integer of 1 or more")
        need("help" not in filled or filled["help"] in document["help"], [*where, "help"], "unknown help")
        stages.append(filled)
    proven["stages"] = stages
    _words(proven["barred"], [*place, "barred"], [one["key"] for one in document["deviations"]])
    need(isinstance(proven["measures"], dict), [*place, "measures"], "not an object")
    for name, bounds in proven["measures"].items():
        check_range(name, bounds, document, [*place, "measures", name])
    return proven


def check_range(name: str, bounds: Any, document: dict[str, Any], place: list[str | int]) -> None:
    """A closed range [low, high] of a known measure; either or both may be null."""
    need(name in [one["key"] for one in document["measures"]], place, "unknown measure")
    need(isinstance(bounds, list) and len(bounds) == 2, place, "not [low, high]")
    need(all(bound is None or is_number(bound) for bound in bounds), place, "not a number")
    low, high = bounds
    need(low is None or high is None or low <= high, place, "low is more than high")


def _prerequisites(document: dict[str, Any]) -> None:
    skills = document["skills_by_key"]
    for at, skill in enumerate(document["skills"]):
        for position, key in enumerate(skill["after"]):
            need(key in skills, ["skills", at, "after", position], "unknown skill")
    for at, skill in enumerate(document["skills"]):
        need(skill["key"] not in depends(skill["key"], document), ["skills", at, "after"], "a circle")


def depends(key: str, document: dict[str, Any]) -> set[str]:
    """All that `after` reaches from a skill, directly or through others."""
    reached: set[str] = set()
    while True:
        more = {
            next_key
            for skill in document["skills"]
            if skill["key"] == key or skill["key"] in reached
            for next_key in skill["after"]
        }
        if more <= reached:
            return reached
        reached |= more


def _rule(sent: Any, at: int) -> dict[str, Any]:
    place: list[str | int] = ["rules", at]
    rule = _fields(
        sent,
        place,
        required=["key", "sentence", "severity", "do_now", "when"],
        defaults={},
        optional=["require", "expect", "within", *OPTIONAL_TEXTS],
    )
    for name in ["key", "sentence", "do_now"]:
        need(isinstance(rule[name], str), [*place, name], "not a text")
    need(rule["key"] not in BUILT_IN, [*place, "key"], "the key of a built-in rule")
    need(rule["severity"] in SEVERITIES, [*place, "severity"], "unknown severity")
    if "require" in rule:
        need("expect" not in rule, [*place, "expect"], "not beside require")
        need("within" not in rule, [*place, "within"], "not beside require")
    else:
        need("expect" in rule, [*place, "require"], "neither require nor expect")
        need("within" in rule, [*place, "within"], "missing")
        need(seconds(rule["within"]) is not None, [*place, "within"], "not a duration")
    return rule


ATOM_KINDS = [kind for kind in FIELDS if kind != "struck_out" and kind not in BESIDE]
