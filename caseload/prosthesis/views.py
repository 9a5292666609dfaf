"""The prosthetist's pages of the device register, from a person's plan."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.episode.selectors import Plan, plan
from caseload.prosthesis.forms import PartForm, RegisterForm, RemoveForm, ScaleForm
from caseload.prosthesis.selectors import IN_THE_RECORD, Device, Part, device_of
from caseload.prosthesis.services import (
    Fitted,
    edit_prosthesis,
    fit_component,
    register_prosthesis,
    remove_component,
)
from caseload.words import day_words, side_words
from clinic import clock
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in

RECORD_TOO = gettext_lazy(
    "This is the register only. That a socket, foot or knee was changed is a fact of the record as well, with what it "
    "sets back: that is recorded at the Bench."
)


def register(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Register a prosthesis."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    back = reverse("plan", args=[episode_id])
    lead = _("Its parts and their serial numbers come next.")
    act = Act(title=_("Register a prosthesis"), submit=_("Register"), back=back, over=head.whose, lead=lead)
    side = head.side if head.side in ("left", "right") else None
    form = RegisterForm(request.POST or None, initial={"side": side})
    return answer(request, act, form, partial(register_prosthesis, actor=actor, episode_id=episode_id))


def edit(request: HttpRequest, episode_id: UUID, prosthesis_id: UUID) -> HttpResponse:
    """Correct the label or the scale."""
    actor, at = signed_in(request), clock.now()
    head, device = plan(actor, episode_id, at=at), device_of(actor, episode_id, prosthesis_id, at=at)
    names = ("label", "resistance_low", "resistance_high", "version")
    form = ScaleForm(request.POST or None, initial={name: getattr(device, name) for name in names})
    back = reverse("plan", args=[episode_id])
    act = Act(title=_("Correct the register"), submit=_("Save"), back=back, over=head.whose)
    do = partial(edit_prosthesis, actor=actor, prosthesis_id=prosthesis_id)
    return answer(request, act, form, do, fresh=lambda: device_of(actor, episode_id, prosthesis_id, at=at).version)


def fit_part(request: HttpRequest, episode_id: UUID, prosthesis_id: UUID) -> HttpResponse:
    """Write down a part that was fitted. One that replaces another leads on to the Bench: that is a change as well."""
    actor, at = signed_in(request), clock.now()
    head, device = plan(actor, episode_id, at=at), device_of(actor, episode_id, prosthesis_id, at=at)
    act = Act(
        title=_("Fit a part"),
        submit=_("Write it down"),
        back=reverse("plan", args=[episode_id]),
        over=_over(head, device),
        caution=RECORD_TOO,
        template="caseload/fit_part.html",
        extra={"device": device, "plan": head},
    )
    start = {"since": clock.local_day(at, head.zone), "kind": request.GET.get("kind")}
    form = PartForm(request.POST or None, initial=start)
    do = partial(fit_component, actor=actor, prosthesis_id=prosthesis_id)
    return answer(request, act, form, do, then=partial(_fitted, episode_id))


def _fitted(episode_id: UUID, fitted: Fitted, act: Act) -> Act:
    new, old = fitted.part, fitted.replaced
    done = _("{part} is fitted.").format(part=new.description)
    if old is None:
        return replace(act, done=done)
    ended = _("{part} is no longer worn from {day} on.").format(part=old.description, day=day_words(new.period.lower))
    if new.kind not in IN_THE_RECORD:
        return replace(act, done=f"{done} {ended}")
    now = _("Now record the exchange: nothing is set back before that.")
    bench = f"{reverse('bench_person', args=[episode_id])}?setting={new.kind}"
    return replace(act, done=f"{done} {ended} {now}", back=bench)


def remove_part(request: HttpRequest, episode_id: UUID, prosthesis_id: UUID, part_id: UUID) -> HttpResponse:
    """Say that a part is no longer worn."""
    actor, at = signed_in(request), clock.now()
    head, device = plan(actor, episode_id, at=at), device_of(actor, episode_id, prosthesis_id, at=at)
    part = device.part(part_id)
    act = Act(
        title=_("A part is no longer worn"),
        submit=_("Write it down"),
        back=reverse("plan", args=[episode_id]),
        over=_over(head, device),
        lead=_named(part) if part else "",
        caution=RECORD_TOO,
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
