"""Facts of the record in words: what, then how, for a line of a timeline."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, NamedTuple

from caseload.words import day_words
from checklists.floor import words
from checklists.pictures import names
from checklists.pictures.words import WORDS, HELP

Fact = Mapping[str, Any]


class Told(NamedTuple):
    """A fact in words, and the mark that it carries (none where it carries none)."""

    head: str
    detail: str = ""
    mark: str = ""


def skill_name(fact: Fact) -> str:
    """The short name of the skill that a fact names; nothing where it names none."""
    key = fact.get("skill")
    return names.short(key, key.replace("_", " ")) if key else ""


def tell(fact: Fact) -> Told:
    """A fact in words."""
    return _KINDS[fact["kind"]](fact)


def _joined(*parts: str) -> str:
    return " · ".join(part for part in parts if part)


def _knee(fact: Fact) -> str:
    return f"{fact['knee']} knee" if fact.get("knee") else ""


def _attempt(fact: Fact) -> Told:
    seen = ", ".join(names.short(key, key.replace("_", " "), names.DEVIATIONS) for key in fact.get("deviations", ()))
    numbers = ", ".join(f"{words.MEASURES.get(key, key)} {value:g}" for key, value in fact.get("measures", {}).items())
    against = f"against advice: {fact['despite']}" if fact.get("despite") else ""
    where = f"{skill_name(fact)}, {WORDS.rung(fact['support'])}, {HELP.get(fact['help'], fact['help'])}"
    return Told(where, _joined(seen, numbers, against), fact["result"])


def _check(fact: Fact) -> Told:
    order = sorted(fact["steps"], key=lambda step: list(words.STEPS).index(step) if step in words.STEPS else 99)
    bad = [words.STEPS.get(step, step) for step in order if not fact["steps"][step]]
    name = words.CHECKS.get(fact["name"], fact["name"].replace("_", " "))
    if bad:
        return Told(f"{name}: {', '.join(bad)} not good", _knee(fact), "unsafe")
    steps = ", ".join(words.STEPS.get(step, step) for step in order)
    return Told(f"{name}: {steps} good", _knee(fact))


def _mode_set(fact: Fact) -> Told:
    support = fact.get("support")
    where = "seated" if support == "none" else WORDS.rung(support) if support else ""
    return Told(f"Knee set to {words.MODE[fact['mode']].lower()}", _joined(_knee(fact), where))


def _mode_checked(fact: Fact) -> Told:
    mode = words.MODE[fact["mode"]].lower()
    found = f"Knee proven in {mode} mode" if fact["ok"] else f"Knee checked for {mode} mode, and not so"
    return Told(found, _knee(fact), "" if fact["ok"] else "unsafe")


def _setting(fact: Fact) -> Told:
    said = words.SETTING[fact["setting"]]
    if fact.get("from") and fact.get("to"):
        said += f" {fact['from']} to {fact['to']}"
    else:
        said += f": {fact['to']}" if fact.get("to") else " changed"
    return Told(said, _knee(fact))


def _fall(fact: Fact) -> Told:
    during = f" during {skill_name(fact).lower()}" if fact.get("skill") else ""
    return Told(
        f"Fall{during}, injury: {fact['injury']}",
        _joined(fact.get("circumstances", ""), fact.get("action", "")),
        "critical",
    )


def _near_miss(fact: Fact) -> Told:
    during = f" during {skill_name(fact).lower()}" if fact.get("skill") else ""
    return Told(f"Near miss{during}", _joined(fact.get("circumstances", ""), fact.get("action", "")), "major")


def _sign_off(fact: Fact) -> Told:
    override = fact.get("override")
    return Told(
        f"Signed off: {skill_name(fact)}", f"countersigned: {override['reason']}" if override else "", "signed_off"
    )


def _review(fact: Fact) -> Told:
    outcome = fact.get("outcome", "")
    due = f"next review {day_words(date.fromisoformat(fact['next_due']))}" if fact.get("next_due") else ""
    return Told(f"Review{': ' + outcome.replace('_', ' ') if outcome else ''}", due)


_KINDS: dict[str, Callable[[Fact], Told]] = {
    "attempt": _attempt,
    "check": _check,
    "mode_set": _mode_set,
    "mode_checked": _mode_checked,
    "setting_changed": _setting,
    "fall": _fall,
    "near_miss": _near_miss,
    "sign_off": _sign_off,
    "review": _review,
    "sign_off_withdrawn": lambda fact: Told(
        f"Sign-off withdrawn: {skill_name(fact)}", fact.get("reason", ""), "suspended"
    ),
    "struck_out": lambda fact: Told("Struck out", fact["reason"], "suspended"),
    "session_opened": lambda fact: Told("Session opened"),
    "session_closed": lambda fact: Told("Session closed"),
    "episode_opened": lambda fact: Told("Episode opened", f"prosthesis: {words.SIDES[fact['side']]}"),
    "correction_requested": lambda fact: Told(
        "Correction asked for", f"“{fact['text']}” · asked by {fact['asked_by']}", "waiting"
    ),
    "correction_answered": lambda fact: Told(
        f"Correction {fact['answer']}", fact.get("reason", ""), "good" if fact["answer"] == "agreed" else "stop"
    ),
    "episode_closed": lambda fact: Told("Episode closed", fact.get("reason", "")),
}
