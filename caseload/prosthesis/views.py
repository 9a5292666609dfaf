"""The prosthetist's pages of the device register, from a person's plan."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _

from caseload.episode.selectors import Plan, plan
from caseload.prosthesis.forms import CorrectPartForm, PartForm, RegisterForm, RemoveForm, ScaleForm
from caseload.prosthesis.places import first_knee, strikes_out
from caseload.prosthesis.recorded import Named, recorded
from caseload.prosthesis.selectors import Device, Part, device_of, devices, free_sides
from caseload.prosthesis.services import (
    correct_component,
    edit_prosthesis,
    fit_component,
    register_prosthesis,
    remove_component,
)
from caseload.prosthesis.steps import Corrected, Fitted
from caseload.words import day_words, instant_words, side_words
from clinic import clock
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in


def register(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Register a prosthesis."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    lead = _("Its parts and their serial numbers come next.")
    act = Act(
        title=_("Register a prosthesis"), submit=_("Register"), back=_devices(episode_id), over=head.whose, lead=lead
    )
    form = RegisterForm(request.POST or None, sides=free_sides(head.side, devices(actor, episode_id, at=at)))
    do = partial(register_prosthesis, actor=actor, episode_id=episode_id)
    return answer(request, act, form, do, then=_registered)


def _registered(new: Any, act: Act) -> Act:
    """Straight on to the knee of the prosthesis that is new."""
    return replace(act, back=first_knee(new.episode_id, new.side), done=_("Registered. Its knee comes next."))


def _devices(episode_id: UUID) -> str:
    return f"{reverse('plan', args=[episode_id])}#plan-devices"


def edit(request: HttpRequest, episode_id: UUID, prosthesis_id: UUID) -> HttpResponse:
    """Correct the label or the scale."""
    actor, at = signed_in(request), clock.now()
    head, device = plan(actor, episode_id, at=at), device_of(actor, episode_id, prosthesis_id, at=at)
    names = ("label", "resistance_low", "resistance_high", "version")
    form = ScaleForm(request.POST or None, initial={name: getattr(device, name) for name in names})
    lead = _("What a part is called, and its serial number, are corrected at the part.")
    act = Act(title=_("Correct the register"), submit=_("Save"), back=_devices(episode_id), over=head.whose, lead=lead)
    do = partial(edit_prosthesis, actor=actor, prosthesis_id=prosthesis_id)
    return answer(request, act, form, do, fresh=lambda: device_of(actor, episode_id, prosthesis_id, at=at).version)


def fit_part(request: HttpRequest, episode_id: UUID, prosthesis_id: UUID) -> HttpResponse:
    """Write down a part that was fitted. A knee, and what takes the place of a socket or foot, is a fact of the record
    as well: the form of the Bench writes both."""
    actor, at = signed_in(request), clock.now()
    head, device = plan(actor, episode_id, at=at), device_of(actor, episode_id, prosthesis_id, at=at)
    act = Act(
        title=_("Fit a part"),
        submit=_("Write it down"),
        back=_devices(episode_id),
        over=_over(head, device),
        template="caseload/fit_part.html",
        extra={"device": device, "plan": head},
    )
    since = clock.local_day(at, head.zone)
    form = PartForm(request.POST or None, kind=request.GET.get("kind", ""), kinds=device.plain, since=since)
    do = partial(fit_component, actor=actor, prosthesis_id=prosthesis_id)
    return answer(request, act, form, do, then=_fitted)


def _fitted(fitted: Fitted, act: Act) -> Act:
    new, old = fitted.part, fitted.replaced
    done = _("{part} is fitted.").format(part=new.description)
    if old is None:
        return replace(act, done=done)
    ended = _("{part} is no longer worn from {day} on.").format(part=old.description, day=day_words(new.period.lower))
    return replace(act, done=f"{done} {ended}")


def remove_part(request: HttpRequest, episode_id: UUID, prosthesis_id: UUID, part_id: UUID) -> HttpResponse:
    """Say that a part is no longer worn."""
    actor, at = signed_in(request), clock.now()
    head, device = plan(actor, episode_id, at=at), device_of(actor, episode_id, prosthesis_id, at=at)
    part = device.part(part_id)
    act = Act(
        title=_("A part is no longer worn"),
        submit=_("Write it down"),
        back=_devices(episode_id),
        over=_over(head, device),
        lead=_named(part) if part else "",
    )
    form = RemoveForm(request.POST or None, initial={"on": clock.local_day(at, head.zone)})
    do = partial(remove_component, actor=actor, prosthesis_id=prosthesis_id, component_id=part_id)
    return answer(request, act, form, do)


def correct_part(request: HttpRequest, episode_id: UUID, prosthesis_id: UUID, part_id: UUID) -> HttpResponse:
    """Put what a part is called right. What the record of facts says of it is struck out and recorded again instead."""
    actor, at = signed_in(request), clock.now()
    head, worn = plan(actor, episode_id, at=at), devices(actor, episode_id, at=at)
    device = device_of(actor, episode_id, prosthesis_id, at=at)
    part, named = device.part(part_id), recorded(episode_id, worn, head.zone).named.get(part_id)
    if named and part and named.is_all(part.description, part.serial) and request.method == "GET":
        messages.info(request, _said_by(named, head.zone))
        return redirect(strikes_out(episode_id, named.entry))
    act = _correcting(head, device, part, named)
    form = CorrectPartForm(request.POST or None, initial=_as_it_is(part, named))
    do = partial(correct_component, actor=actor, prosthesis_id=prosthesis_id, component_id=part_id)
    return answer(request, act, form, do, then=_corrected)


def _correcting(head: Plan, device: Device, part: Part | None, named: Named | None) -> Act:
    return Act(
        title=_("Correct a part"),
        submit=_("Correct it"),
        back=_devices(head.episode_id),
        over=_over(head, device),
        lead=_named(part) if part else "",
        template="caseload/correct_part.html",
        extra={"named": named, "strike": strikes_out(head.episode_id, named.entry) if named else ""},
    )


def _said_by(named: Named, zone: str) -> str:
    said = _(
        "The record says “{words}”, since {at}. Where that is wrong, strike it out here and record it again: the"
        " register is corrected with it."
    )
    return said.format(words=named.words, at=instant_words(named.at, zone))


def _as_it_is(part: Part | None, named: Named | None) -> dict[str, str]:
    """What the part is called; where the record calls it something else, that."""
    if part is None:
        return {}
    name = (part.description, part.serial)
    description, serial = name if named is None or named.holds(*name) else named.name
    return {"description": description, "serial": serial, "seen": part.words}


def _corrected(came: Corrected | None, act: Act) -> Act:
    if came is None:
        return replace(act, done=_("Nothing was changed: the register says so already."))
    return replace(act, done=_("The register says {now}; it said {was}.").format(now=came.now, was=came.was))


def _named(part: Part) -> str:
    return _("{kind}: {part}, worn from {day}").format(
        kind=part.kind.capitalize(), part=part.words, day=day_words(part.since)
    )


def _over(head: Plan, device: Device) -> str:
    return _("{whose} · {side} prosthesis, {label}").format(
        whose=head.whose, side=side_words(device.side), label=device.label
    )
