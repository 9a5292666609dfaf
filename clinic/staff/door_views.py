"""The door: signing in, signing out, one's own password."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from clinic import clock
from clinic.errors import Refusal
from clinic.staff import own_password, sessions
from clinic.staff.door_forms import PasswordForm, SignInForm
from clinic.staff.sign_in import sign_in
from clinic.web import entrance, kept, tablet
from clinic.web.forms import refused, signed_in
from clinic.web.shell import first_page

BACKEND = "clinic.staff.sign_in.StaffBackend"


def _next(request: HttpRequest) -> str:
    """Where they were going, where that is on this server."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if safe and wanted not in ("/", request.path) else ""


@login_not_required
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_page(request: HttpRequest) -> HttpResponse:
    """Ask who it is, and let them in."""
    if request.user.is_authenticated:
        return redirect(_next(request) or first_page(signed_in(request), clock.now()))
    if request.method == "GET" and request.GET.get("with") != "password" and tablet.tablet_of(request) is not None:
        return redirect(entrance.with_next(entrance.door_of(request), _next(request)))
    form, status = SignInForm(request.POST or None), 200
    if request.method == "POST" and form.is_valid():
        try:
            return _let_in(request, **form.cleaned_data)
        except Refusal as refusal:
            status = refused(form, refusal)
    page = {
        "form": form,
        "next": _next(request),
        "kept": kept.waiting(request),
        "ended": entrance.OWNER in request.session,
    }
    return render(request, "door/sign_in.html", page, status=status)


def _let_in(request: HttpRequest, *, username: str, password: str) -> HttpResponse:
    staff = sign_in(username=username, password=password)
    login(request, staff, backend=BACKEND)
    at = clock.now()
    entrance.begin(request, zone=staff.site.time_zone, at=at)
    form = kept.waiting(request)
    response = redirect((form.page if form else "") or _next(request) or first_page(staff, at))
    entrance.remember(response, staff.pk)
    return response


@require_POST
def sign_out_page(request: HttpRequest) -> HttpResponse:
    """End the session."""
    sessions.sign_out(signed_in(request))
    logout(request)
    return redirect(entrance.door_of(request))


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def password_page(request: HttpRequest) -> HttpResponse:
    """Choose a password of one's own."""
    actor, form = signed_in(request), PasswordForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            data = form.cleaned_data
            own_password.change_password(actor=actor, old=data["old_password"], new=data["new_password"])
            update_session_auth_hash(request, actor)
            messages.success(request, "Your password is changed. Sessions elsewhere have ended.")
            return redirect(first_page(actor, clock.now()))
        except Refusal as refusal:
            return render(request, "door/password.html", {"form": form}, status=refused(form, refusal))
    return render(request, "door/password.html", {"form": form})


@require_POST
def put_away(request: HttpRequest) -> HttpResponse:
    """Put a kept form away, unsent."""
    form = kept.waiting(request)
    kept.drop(request)
    messages.success(request, "Put away. Nothing was recorded.")
    return redirect(form.page if form else first_page(signed_in(request), clock.now()))
