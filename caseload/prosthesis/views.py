"""The prosthetist's pages of the device register, from a person's plan."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from caseload.episode.selectors import Plan, plan
from caseload.prosthesis.forms import PartForm, RegisterForm, RemoveForm, ScaleForm
from caseload.prosthesis.places import first_knee
from caseload.prosthesis.selectors import Device, Part, device_of, devices, free_sides
from caseload.prosthesis.services import (
    edit_prosthesis,
    fit_component,
    register_prosthesis,
    remove_component,
)
from caseload.prosthesis.steps import Fitted
from caseload.words import day_words, side_words
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
    act = Act(title=_("Correct the register"), submit=_("Save"), back=_devices(episode_id), over=head.whose)
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


def _named(part: Part) -> str:
    return _("{kind}: {part}, worn from {day}").format(
        kind=part.kind.capitalize(), part=part.words, day=day_words(part.since)
    )


def _over(head: Plan, device: Device) -> str:
    return _("{whose} · {side} prosthesis, {label}").format(
        whose=head.whose, side=side_words(device.side), label=device.label
    )
