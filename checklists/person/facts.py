"""Facts of the record in words: what, then how, for a line of a timeline."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any, NamedTuple

from django.utils.translation import gettext as _

from caseload.words import day_words
from checklists.floor import words
from checklists.floor.measures import measured
from checklists.pictures import names
from checklists.pictures.words import HELP, RESULT, WORDS
from checklists.words.tables import worded

Fact = Mapping[str, Any]


class Told(NamedTuple):
    """A fact in words, and the mark that it carries (none where it carries none)."""

    head: str
    detail: str = ""
    mark: str = ""

    @property
    def result(self) -> str:
        """The mark, where it is the result of an attempt: it is said in a word beside the drawing."""
        return self.mark if self.mark in RESULT else ""


def skill_name(fact: Fact) -> str:
    """The short name of the skill that a fact names; nothing where it names none."""
    key = fact.get("skill")
    return names.short(key, key.replace("_", " ")) if key else ""


def happened_at(fact: Fact) -> datetime | None:
    """When it happened, of something that may be no fact at all; nothing where that cannot be read."""
    try:
        found = datetime.fromisoformat(fact["at"])
    except (KeyError, TypeError, ValueError):
        return None
    return found if found.tzinfo else None


def tell(fact: Fact) -> Told:
    """A fact in words."""
    return _KINDS[fact["kind"]](fact)


def _joined(*parts: str) -> str:
    return " · ".join(part for part in parts if part)


def _knee(fact: Fact) -> str:
    return worded(fact["knee"], "knee") if fact.get("knee") else ""


def _attempt(fact: Fact) -> Told:
    seen = ", ".join(names.short(key, key.replace("_", " "), names.DEVIATIONS) for key in fact.get("deviations", ()))
    numbers = ", ".join(measured(key, value) for key, value in fact.get("measures", {}).items())
    against = _("against advice: {why}").format(why=fact["despite"]) if fact.get("despite") else ""
    where = f"{skill_name(fact)}, {WORDS.rung(fact['support'])}, {HELP.get(fact['help'], fact['help'])}"
    return Told(where, _joined(seen, numbers, against), fact["result"])


def _check(fact: Fact) -> Told:
    order = sorted(fact["steps"], key=lambda step: list(words.STEPS).index(step) if step in words.STEPS else 99)
    bad = [words.STEPS.get(step, step) for step in order if not fact["steps"][step]]
    name = words.CHECKS.get(fact["name"], fact["name"].replace("_", " "))
    if bad:
        return Told(_("{check}: {steps} not good").format(check=name, steps=", ".join(bad)), _knee(fact), "unsafe")
    steps = ", ".join(words.STEPS.get(step, step) for step in order)
    return Told(_("{check}: {steps} good").format(check=name, steps=steps), _knee(fact))


def _mode_set(fact: Fact) -> Told:
    support = fact.get("support")
    where = _("seated") if support == "none" else WORDS.rung(support) if support else ""
    return Told(_("Knee set to {mode}").format(mode=words.MODE[fact["mode"]].lower()), _joined(_knee(fact), where))


def _mode_checked(fact: Fact) -> Told:
    mode = words.MODE[fact["mode"]].lower()
    found = _("Knee proven in {mode} mode") if fact["ok"] else _("Knee checked for {mode} mode, and not so")
    return Told(found.format(mode=mode), _knee(fact), "" if fact["ok"] else "unsafe")


def fitted(fact: Fact) -> str:
    """The knee that a change names without another before it: 'Knee fitted: …'; else nothing."""
    was, now = fact.get("from", ""), fact.get("to", "")
    is_fitted = fact["setting"] == "knee" and now and was in ("", now)
    return _("Knee fitted: {knee}").format(knee=now) if is_fitted else ""


def _setting(fact: Fact) -> Told:
    setting, was, now = words.SETTING[fact["setting"]], fact.get("from"), fact.get("to")
    if fitted(fact):
        told = fitted(fact)
    elif was and now:
        told = _("{setting} {was} to {now}").format(setting=setting, was=was, now=now)
    else:
        told = f"{setting}: {now}" if now else _("{setting} changed").format(setting=setting)
    return Told(told, _knee(fact))


def _fall(fact: Fact) -> Told:
    injury, skill = worded(fact["injury"], "injury"), skill_name(fact).lower()
    during = _("Fall during {skill}, injury: {injury}") if skill else _("Fall, injury: {injury}")
    return Told(
        during.format(skill=skill, injury=injury),
        _joined(fact.get("circumstances", ""), fact.get("action", "")),
        "critical",
    )


def _near_miss(fact: Fact) -> Told:
    skill = skill_name(fact).lower()
    head = _("Near miss during {skill}").format(skill=skill) if skill else _("Near miss")
    return Told(head, _joined(fact.get("circumstances", ""), fact.get("action", "")), "major")


def _sign_off(fact: Fact) -> Told:
    override = fact.get("override")
    head = _("Signed off: {skill}").format(skill=skill_name(fact))
    return Told(head, _("countersigned: {why}").format(why=override["reason"]) if override else "", "signed_off")


def _review(fact: Fact) -> Told:
    outcome, due = fact.get("outcome", ""), fact.get("next_due")
    head = _("Review: {outcome}").format(outcome=worded(outcome, "outcome")) if outcome else _("Review")
    return Told(head, _("next review {day}").format(day=day_words(date.fromisoformat(due))) if due else "")


def _asked(fact: Fact) -> Told:
    detail = _("“{text}” · asked by {name}").format(text=fact["text"], name=fact["asked_by"])
    return Told(_("Correction asked for"), detail, "waiting")


def _answered(fact: Fact) -> Told:
    agreed = fact["answer"] == "agreed"
    head = _("Correction agreed") if agreed else _("Correction declined")
    return Told(head, fact.get("reason", ""), "good" if agreed else "stop")


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
        _("Sign-off withdrawn: {skill}").format(skill=skill_name(fact)), fact.get("reason", ""), "suspended"
    ),
    "struck_out": lambda fact: Told(_("Struck out"), fact["reason"], "suspended"),
    "session_opened": lambda fact: Told(_("Session opened")),
    "session_closed": lambda fact: Told(_("Session closed")),
    "episode_opened": lambda fact: Told(
        _("Episode opened"), _("prosthesis: {side}").format(side=words.SIDES[fact["side"]])
    ),
    "correction_requested": _asked,
    "correction_answered": _answered,
    "episode_closed": lambda fact: Told(_("Episode closed"), fact.get("reason", "")),
}
