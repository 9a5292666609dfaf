"""An alert about the record of a danger that was struck out: which danger it was, and what is asked of whom."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from checklists.alerts.selectors import Act, RuleInAct
from checklists.pictures import names
from checklists.words import Spoken, said
from clinic.staff.models import Staff

STRUCK = "struck_danger"  # the rule that the record of a danger is not struck out unseen
# What makes an entry of this kind a danger (SEMANTICS.md §4), in words; of an attempt see `_of_attempt`.
DANGERS = Spoken(
    {
        "episode_opened": gettext_noop("all that is recorded rests on it"),
        "fall": gettext_noop("a fall"),
        "setting_changed": gettext_noop("a change of the knee, which sets back what was proven"),
        "sign_off_withdrawn": gettext_noop("a sign-off was withdrawn"),
        "review": gettext_noop("a review that did not clear the fall"),
        "check": gettext_noop("a check of which something was not good"),
        "mode_checked": gettext_noop("the knee was not in the mode that it was checked for"),
    }
)


def danger_words(act: Act) -> str:
    """'It was a danger on record: a fault was seen, Hip stays bent': why the rule asks; nothing where it does not."""
    kind = str(act.struck.get("kind"))
    if not any(rule.rule == STRUCK and rule.state != "withdrawn" for rule in act.rules):
        return ""
    what = _of_attempt(act) if kind == "attempt" else DANGERS.get(kind, "")
    return _("It was a danger on record: {what}").format(what=what) if what else ""


def _of_attempt(act: Act) -> str:
    seen = [names.short(key, key.replace("_", " "), names.DEVIATIONS) for key in act.barred]
    faults = ngettext("a fault was seen, {faults}", "faults were seen, {faults}", len(seen))
    unsafe = _("the result was unsafe") if act.struck.get("result") == "unsafe" else ""
    return "; ".join(filter(None, (unsafe, faults.format(faults=", ".join(seen)) if seen else "")))


def what_now(actor: Staff, act: Act, rule: RuleInAct) -> str:
    """What the rule asks for: whoever struck it out is not told to ask themselves, and not to say again what they said.
    The reason that was given with it is kept."""
    reason = str(act.fact.get("reason", "")).rstrip(".")
    if not is_own(actor, act, rule):
        given = _("The reason that was given: {reason}.").format(reason=reason) if reason else ""
        return f"{said(rule.do_now)} {given}".rstrip()
    return _(
        "You struck it out. Your reason stands, and is kept: {reason}. Add what you did about it; if there was nothing "
        "more to do, answer “nothing more”. A clinic lead may ask you."
    ).format(reason=reason)


def is_own(actor: Staff, act: Act, rule: RuleInAct) -> bool:
    """Whether it is the actor who is asked why."""
    return rule.rule == STRUCK and act.fact.get("by") == actor.reference
