"""Enrolling a tablet, and the lead's list of tablets."""

from __future__ import annotations

from datetime import datetime
from functools import partial
from uuid import UUID

from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound, Refusal
from clinic.language import dates
from clinic.staff import agents, sessions
from clinic.staff.forms import Reason
from clinic.staff.tablet import forms, pins, selectors, services
from clinic.web import tablet
from clinic.web.acts import Act, answer
from clinic.web.forms import refused, signed_in

CAUTION = gettext_lazy(
    "A PIN opens recording only, on this device only. Who may hold the tablet, and where it lies "
    "at night, is a matter of local policy."
)


@login_not_required
@sensitive_post_parameters("code")
@require_http_methods(["GET", "HEAD", "POST"])
def enrol(request: HttpRequest) -> HttpResponse:
    """On the tablet: the code that a lead has handed out."""
    form, status = forms.CodeForm(request.POST or None), 200
    if request.method == "POST" and form.is_valid():
        try:
            return _kept_by_device(services.enrol_by_code(agent=_agent(request), **form.cleaned_data))
        except Refusal as refusal:
            form.add_error(None, refusal.sentence)
            status = refusal.status
    return render(request, "tablet/enrol.html", {"form": form, "here": tablet.tablet_of(request)}, status=status)


def enrol_here(request: HttpRequest) -> HttpResponse:
    """A lead who is signed in on the device makes it a tablet of the gym, and is signed out on it."""
    actor = signed_in(request)
    access.permit(actor, Action.MANAGE_TABLETS, clock.now())
    form, status = forms.TabletForm(request.POST or None), 200
    if request.method == "POST" and form.is_valid():
        try:
            enrolled = services.enrol_here(actor=actor, agent=_agent(request), **form.cleaned_data)
        except Refusal as refusal:
            status = refused(form, refusal)
        else:
            sessions.sign_out(actor)
            logout(request)
            return _kept_by_device(enrolled)
    lead = _("You are signed out on it afterwards: from then on colleagues choose their name and type their PIN.")
    act = Act(
        title=_("Make this device a gym tablet"),
        submit=_("Enrol it"),
        back=reverse("tablets"),
        over=_("Gym tablets"),
        lead=lead,
        caution=CAUTION,
    )
    return render(request, "act.html", {"act": act, "form": form}, status=status)


def _kept_by_device(enrolled: services.Enrolled) -> HttpResponse:
    response = redirect("tablet")
    tablet.give(response, enrolled.tablet, enrolled.secret)
    return response


def _agent(request: HttpRequest) -> str:
    return agents.kind_of_device(request.headers.get("User-Agent", ""))


# --- the lead's list -------------------------------------------------------------------------------------------------
def listed(request: HttpRequest, *, at: datetime) -> dict[str, object]:
    """Every tablet, with when it was last seen: what tablet/list.html shows. The page is checklists/sealed's, which
    knows what the tablets had sealed."""
    rows = selectors.tablets(signed_in(request), at=at)
    return {"rows": rows, "here": tablet.tablet_of(request), "unseen": selectors.UNSEEN_AFTER.days, "caution": CAUTION}


def add_tablet(request: HttpRequest) -> HttpResponse:
    """A tablet that will be enrolled by a code."""
    access.permit(signed_in(request), Action.MANAGE_TABLETS, clock.now())
    form, status = forms.TabletForm(request.POST or None), 200
    if request.method == "POST" and form.is_valid():
        try:
            awaited = services.add_tablet(actor=signed_in(request), **form.cleaned_data)
        except Refusal as refusal:
            status = refused(form, refusal)
        else:
            address = request.build_absolute_uri(reverse("enrol_tablet"))
            return render(request, "tablet/code.html", {"awaited": awaited, "address": address})
    act = Act(
        title=_("Add a gym tablet"),
        submit=_("Make its code"),
        back=reverse("tablets"),
        over=_("Gym tablets"),
        caution=CAUTION,
    )
    return render(request, "act.html", {"act": act, "form": form}, status=status)


def revoke_tablet(request: HttpRequest, tablet_id: UUID) -> HttpResponse:
    """Lost, sold, broken."""
    row = selectors.tablet_row(signed_in(request), tablet_id, at=clock.now())
    if row is None:
        raise NotFound(_("There is no such tablet."))
    lead = _(
        "From this moment no PIN opens it, and whoever is signed in on it is signed out. What was recorded on it and "
        "not sent stays there, sealed: whoever signs in on it with name and password passes it on, and it waits for "
        "whoever recorded it."
    )
    if row.seen_at:
        heard = _("It was last in reach of the server {at}: what was recorded on it since then is not here yet.")
        lead = f"{lead} {heard.format(at=dates.moment(timezone.localtime(row.seen_at)))}"
    act = Act(
        title=_("Revoke {row}").format(row=row.name),
        submit=_("Revoke it"),
        back=reverse("tablets"),
        over=_("Gym tablets"),
        lead=lead,
    )
    do = partial(services.revoke_tablet, actor=signed_in(request), tablet_id=tablet_id)
    return answer(request, act, Reason(request.POST or None), do)


@require_POST
def take_pin(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """A lead takes somebody's PIN away."""
    pins.take_pin(actor=signed_in(request), staff_id=staff_id)
    messages.success(request, _("The PIN is gone, and what it had opened has ended."))
    return redirect("staff_member", staff_id)
