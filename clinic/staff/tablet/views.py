"""A gym tablet's own door: the names of the site's staff, a PIN, hand-over to a colleague."""

from __future__ import annotations

from typing import TYPE_CHECKING
from uuid import UUID

from django.contrib.auth import login, logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic import clock
from clinic.access import Assurance
from clinic.errors import Refusal
from clinic.staff import sessions
from clinic.staff.tablet import forms, selectors, services
from clinic.staff.tablet.pins import TRIES
from clinic.web import entrance, kept, tablet
from clinic.web.forms import refused, signed_in
from clinic.web.shell import first_page

if TYPE_CHECKING:
    from clinic.staff.models import Staff

BACKEND = "clinic.staff.sign_in.StaffBackend"


@login_not_required
@require_GET
def front(request: HttpRequest) -> HttpResponse:
    """The names of the site's staff; on a device that is not enrolled, the usual sign-in page."""
    here = tablet.tablet_of(request)
    if request.user.is_authenticated:
        return redirect(entrance.next_of(request) or first_page(signed_in(request), clock.now()))
    if here is None:
        return redirect(entrance.with_next(reverse("sign_in"), entrance.next_of(request)))
    at = clock.now()
    services.note_seen(here, at=at)
    page = {
        "tablet": here,
        "names": selectors.names(here, at=at),
        "next": entrance.next_of(request),
        "kept": kept.waiting(request),
        "ended": entrance.OWNER in request.session,
        "tries": TRIES,
    }
    return render(request, "tablet/front.html", page)


@login_not_required
@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """The PIN of the colleague who was chosen."""
    here, at = tablet.tablet_of(request), clock.now()
    named = selectors.one_of(here, staff_id, at=at) if here is not None else None
    if here is None or named is None or request.user.is_authenticated:
        return redirect(entrance.with_next(reverse("tablet"), entrance.next_of(request)))
    form, status = forms.PinForm(request.POST or None), 200
    if request.method == "POST" and form.is_valid():
        try:
            return _let_in(request, services.sign_in_by_pin(tablet=here, staff_id=staff_id, **form.cleaned_data))
        except Refusal as refusal:
            status = refused(form, refusal)
    page = {"tablet": here, "named": named, "form": form, "next": entrance.next_of(request)}
    return render(request, "tablet/pin.html", page, status=status)


def _let_in(request: HttpRequest, staff: Staff) -> HttpResponse:
    """By PIN: for recording only, where they were or the colleague who passed it on was, or on their own first page."""
    wanted = entrance.way_back(request, staff, entrance.next_of(request))
    login(request, staff, backend=BACKEND)
    at = clock.now()
    entrance.begin(request, zone=staff.site.time_zone, at=at, shown=Assurance.PIN)
    form = kept.waiting(request)
    response = redirect((form.page if form else "") or wanted or first_page(staff, at))
    entrance.remember(response, staff.pk)
    return response


@login_not_required
@require_POST
def hand_over(request: HttpRequest) -> HttpResponse:
    """The colleague at the tablet goes, another comes: this session ends now, and the names are shown (on a device of
    somebody's own: the sign-in page). Where it has ended already, they are shown all the same."""
    wanted = entrance.next_of(request)
    if request.user.is_authenticated:
        sessions.hand_over(signed_in(request))
        logout(request)
    entrance.passed_on(request)
    return redirect(entrance.with_next(entrance.door_of(request), wanted))
