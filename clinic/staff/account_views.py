"""One's own account: the sessions that are open, and a PIN for the gym's tablets. And a lead who ends what is open."""

from __future__ import annotations

from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic import clock
from clinic.access import Assurance, assurance
from clinic.errors import Refusal
from clinic.staff import sessions
from clinic.staff.reauthenticate import check_present_password
from clinic.staff.tablet import forms, pins, selectors
from clinic.web.forms import refused, signed_in


@require_GET
def own_sessions(request: HttpRequest) -> HttpResponse:
    """Where one is signed in: since when, last used, from where, on which kind of device."""
    actor, at = signed_in(request), clock.now()
    page = {
        "sessions": sessions.sessions_of(actor, at=at),
        "pin": selectors.own_pin(actor, at=at),
        "idle_minutes": settings.IDLE_SECONDS // 60,
        "pin_minutes": settings.PIN_IDLE_MINUTES,
        "hours": settings.SESSION_HOURS,
        "by_pin": assurance.shown() is Assurance.PIN,
    }
    return render(request, "account/sessions.html", page)


@require_POST
def end_session(request: HttpRequest, session_id: UUID) -> HttpResponse:
    """End one of them."""
    sessions.end_session(actor=signed_in(request), session_id=session_id)
    messages.success(request, _("Ended: it opens nothing from now on."))
    return redirect("own_sessions")


@require_POST
def end_other_sessions(request: HttpRequest) -> HttpResponse:
    """End all but this one."""
    ended = sessions.end_others(actor=signed_in(request))
    messages.success(request, _("Ended: {ended}. Only this one is open now.").format(ended=ended))
    return redirect("own_sessions")


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def own_pin(request: HttpRequest) -> HttpResponse:
    """Choose a PIN, after showing once more who one is."""
    assurance.need(Assurance.PASSWORD)
    actor, form, status = signed_in(request), forms.OwnPinForm(request.POST or None), 200
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        try:
            check_present_password(actor, said["password"])
            pins.set_pin(actor=actor, pin=said["pin"], again=said["again"])
            messages.success(request, _("Your PIN is set. It opens recording on the gym's tablets, and nothing else."))
            return redirect("own_sessions")
        except Refusal as refusal:
            status = refused(form, refusal)
    page = {"form": form, "pin": selectors.own_pin(actor, at=clock.now()), "tries": pins.TRIES}
    return render(request, "account/pin.html", page, status=status)


@require_POST
def give_up_pin(request: HttpRequest) -> HttpResponse:
    """No PIN any more."""
    pins.give_up_pin(actor=signed_in(request))
    messages.success(request, _("You have no PIN any more."))
    return redirect("own_sessions")


@require_POST
def end_sessions_of(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """A lead ends whatever is open of somebody's."""
    ended = sessions.end_sessions_of(actor=signed_in(request), staff_id=staff_id)
    messages.success(request, _("Sessions and tokens ended: {ended}.").format(ended=ended))
    return redirect("staff_member", staff_id)
