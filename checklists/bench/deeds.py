"""Whatever the form of the Bench writes: a change, an exchange with its part, a first knee, or a part alone."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from caseload.prosthesis.models import Component
from caseload.prosthesis.selectors import part_words
from caseload.prosthesis.services import fit_component
from caseload.request.models import Setting
from caseload.words import instant_words
from checklists.bench.parts import Stage
from checklists.bench.selectors import Work
from checklists.episode.exchanges import Exchanged, exchange_part, fit_first_knee
from checklists.episode.services import change_setting
from clinic.staff.models import Staff


def deed(actor: Staff, work: Work, sent: Mapping[str, str]) -> Callable[..., Exchanged]:
    """What the form does with its fields. `sent`: what the page carries besides them."""
    if work.stage == Stage.REGISTER and work.device:
        return partial(_register, partial(fit_component, actor=actor, prosthesis_id=work.device.prosthesis_id), work)
    told: dict[str, Any] = {
        "actor": actor,
        "episode_id": work.plan.episode_id,
        "setting": work.setting,
        "made": work.cost.made,
        "shown": sent.get("shown", ""),
        "request_id": work.answers.request_id if work.answers else None,
    }
    if work.stage == Stage.FIRST:
        return partial(fit_first_knee, **{**told, "knee": work.device.side if work.device else None})
    anew = work.stage in (Stage.EXCHANGE, Stage.AGAIN)
    knee: dict[str, Any] = {"new_part": True} if anew and work.setting == Setting.KNEE else {}
    return partial(_change, work, {**told, "before": sent.get("before", "")}, **knee)


def _change(
    work: Work, told: Mapping[str, Any], *, new_part: bool = False, serial: str = "", **fields: Any
) -> Exchanged:
    """A change of what is worn, or another part in its place; recorded again, of the one that is there already."""
    if new_part:
        part, struck = work.hand.part, work.hand.struck
        there = {"corrects": part.component_id if part else None, "struck": UUID(struck.entry) if struck else None}
        return exchange_part(**{**told, **fields, **there}, serial=serial)
    return Exchanged(change_setting(**{**told, **fields}), None)


def _register(do: Callable[..., Any], work: Work, *, to: str, serial: str, since: Any, **_carried: Any) -> Exchanged:
    return Exchanged(None, do(kind=work.setting, description=to, serial=serial, since=since))


def _words(part: Component) -> str:
    """Two parts of one name are told apart by their numbers."""
    return part_words(part.description, part.serial)


def looked(work: Work, *, pressed: bool) -> str:
    """What is said where another time was typed. `pressed`: with the key that records, which it did not."""
    if work.cost.made is None:
        return _("When it was made: give a day and a time that are past.")
    if not pressed:
        return ""
    return _("It was made on {made}. Below stands what it sets back as of then: look at it, then record it.").format(
        made=instant_words(work.cost.made, work.plan.zone)
    )


def said(work: Work, came: Exchanged) -> str:
    """What came of it, for whoever has just recorded it."""
    if came.written and came.written.recorded.waits:  # it was made more than a week ago
        return _("It was made more than a week ago: it is kept, and waits until a clinic lead lets it into the record.")
    part = ""
    if came.fitted and came.fitted.replaced:
        part = _("{part} is in the register, in place of {old}.")
        part = part.format(part=_words(came.fitted.part), old=_words(came.fitted.replaced))
    elif came.fitted:
        part = _("{part} is in the register.").format(part=_words(came.fitted.part))
    elif came.corrected:
        part = _("The register says {now}; it said {was}.").format(now=came.corrected.now, was=came.corrected.was)
    what = " ".join(filter(None, (part, work.said if came.written else "")))
    if came.written and work.cost.made:
        made = instant_words(work.cost.made, work.plan.zone)
        return _("Recorded for {name}, as of {made}. {said}").format(name=work.plan.name, made=made, said=what)
    return _("Recorded for {name}. {said}").format(name=work.plan.name, said=what)
