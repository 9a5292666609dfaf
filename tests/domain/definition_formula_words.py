"""Which formulas get into a document: SEMANTICS.md sections 2 and 3 (naive reference implementation)."""

from __future__ import annotations

from typing import Any

from tests.domain.definition_document import ATOM_KINDS, check_range, need
from tests.domain.definition_words import (
    COMMON,
    FEATURES,
    FIELDS,
    HAVE_TAGS,
    RAILS_OF_TWO,
    STATUSES,
    is_integer,
    is_number,
    seconds,
)

OPERATORS = {
    "entry": [],
    "status": ["skill"],
    "not": [],
    "all": [],
    "any": [],
    "previous": [],
    "once": ["within"],
    "historically": ["within"],
    "since": ["within"],
    "count": ["at_least", "at_most", "after", "same_skill", "within"],
}


def check_rule_formulas(rule: dict[str, Any], document: dict[str, Any], place: list[str | int]) -> None:
    for name in ["when", "require", "expect"]:
        if name in rule:
            check_formula(rule[name], document, [*place, name])


def check_formula(formula: Any, document: dict[str, Any], place: list[str | int]) -> None:
    """Raises DocumentRefused where the contract refuses a formula."""
    need(isinstance(formula, dict), place, "not an object")
    operators = [name for name in formula if name in OPERATORS]
    need(len(operators) == 1, place, "not exactly one known operator")
    operator = operators[0]
    for name in formula:
        need(name == operator or name in OPERATORS[operator], [*place, name], "unknown field")
    inside, here = formula[operator], [*place, operator]
    if operator == "entry":
        check_atom(inside, document, here)
    elif operator == "status":
        need(isinstance(inside, list), here, "not a list")
        need(all(isinstance(one, str) and one in STATUSES for one in inside), here, "unknown status")
        if "skill" in formula:
            known = isinstance(formula["skill"], str) and formula["skill"] in document["skills_by_key"]
            need(known, [*place, "skill"], "unknown skill")
    elif operator in ("all", "any", "since"):
        need(isinstance(inside, list), here, "not a list")
        need(operator != "since" or len(inside) == 2, here, "since has two formulas")
        for at, one in enumerate(inside):
            check_formula(one, document, [*here, at])
    else:
        check_formula(inside, document, here)
    if "within" in formula:
        need(seconds(formula["within"]) is not None, [*place, "within"], "not a duration")
    if operator == "count":
        _check_count(formula, document, place)


def _check_count(formula: dict[str, Any], document: dict[str, Any], place: list[str | int]) -> None:
    need("at_least" in formula or "at_most" in formula, place, "no bound")
    for name in ["at_least", "at_most"]:
        if name in formula:
            bound = formula[name]
            need(is_integer(bound) and bound >= 0, [*place, name], "not an integer of 0 or more")
    need(isinstance(formula.get("same_skill", True), bool), [*place, "same_skill"], "neither true nor false")
    if "after" in formula:
        check_formula(formula["after"], document, [*place, "after"])


def check_atom(atom: Any, document: dict[str, Any], place: list[str | int]) -> None:
    need(isinstance(atom, dict), place, "not an object")
    kinds = ATOM_KINDS
    if "kind" in atom:
        kinds = atom["kind"] if isinstance(atom["kind"], list) else [atom["kind"]]
        need(all(isinstance(kind, str) and kind in ATOM_KINDS for kind in kinds), [*place, "kind"], "unknown kind")
    for name, wanted in atom.items():
        if name == "kind":
            continue
        holders = [kind for kind in kinds if name in COMMON or name in FIELDS[kind]]
        if name == "tags":
            holders = [kind for kind in kinds if kind in HAVE_TAGS]
        need(holders != [], [*place, name], "none of its kinds has this field")
        if name in ("steps", "measures"):
            need(isinstance(wanted, dict), [*place, name], "not an object")
            (_check_steps if name == "steps" else _check_measures)(wanted, atom, document, [*place, name])
            continue
        for value in wanted if isinstance(wanted, list) else [wanted]:
            _check_value(name, value, holders, document, [*place, name])


def _check_steps(
    wanted: dict[str, Any], atom: dict[str, Any], document: dict[str, Any], place: list[str | int]
) -> None:
    names = atom.get("name", list(document["checks_by_key"]))
    names = names if isinstance(names, list) else [names]
    known = [step for check in document["checks"] if check["key"] in names for step in check["steps"]]
    for step, value in wanted.items():
        need(step in known, [*place, step], "unknown step")
        need(isinstance(value, bool), [*place, step], "neither true nor false")


def _check_measures(
    wanted: dict[str, Any], _: dict[str, Any], document: dict[str, Any], place: list[str | int]
) -> None:
    for name, bounds in wanted.items():
        check_range(name, bounds, document, [*place, name])


def _check_value(name: str, value: Any, kinds: list[str], document: dict[str, Any], place: list[str | int]) -> None:
    """A value is known when one of the kinds could hold it."""
    holds = COMMON.get(name) or ("tags" if name == "tags" else FIELDS[kinds[0]][name])
    tags = {tag for skill in document["skills"] for tag in skill["tags"]}
    known: dict[str, Any] = {
        "tags": tags,
        "skill": document["skills_by_key"],
        "check": document["checks_by_key"],
        "rung": document["support"] + RAILS_OF_TWO,
        "support": document["support"] + RAILS_OF_TWO,
        "help": document["help"],
        "deviations": [one["key"] for one in document["deviations"]],
        "features": FEATURES,
    }
    if isinstance(holds, list):
        need(isinstance(value, str) and value in holds, place, "not in the closed list")
    elif holds in known:
        need(isinstance(value, str) and value in known[holds], place, f"unknown {holds}")
    elif holds == "boolean":
        need(isinstance(value, bool), place, "neither true nor false")
    elif holds in ("integer", "number"):
        need(is_number(value), place, "not a number")
    elif holds != "override":
        need(isinstance(value, str), place, "not a text")
