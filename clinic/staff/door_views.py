"""The door: signing in in one step or two, signing out, one's own password."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login, logout, update_session_auth_hash
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clinic import clock
from clinic.access import Assurance, assurance
from clinic.errors import Refusal
from clinic.staff import half_in, own_password, sessions, sign_in
from clinic.staff.door_forms import PasswordForm, SecondStepForm, SignInForm
from clinic.staff.factors import asking
from clinic.staff.factors.shown import Proof, Shown
from clinic.staff.sign_in import Come
from clinic.web import entrance, kept, tablet
from clinic.web.forms import refused, signed_in
from clinic.web.shell import first_page

BACKEND = "clinic.staff.sign_in.StaffBackend"


@login_not_required
@sensitive_post_parameters("password", "passkey")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_page(request: HttpRequest) -> HttpResponse:
    """Ask who it is; lead on to the second step, or let them in."""
    if request.user.is_authenticated:
        return redirect(entrance.next_of(request) or first_page(signed_in(request), clock.now()))
    if request.method == "GET" and request.GET.get("with") != "password" and tablet.tablet_of(request) is not None:
        return redirect(entrance.with_next(entrance.door_of(request), entrance.next_of(request)))
    form, status = SignInForm(request.POST or None), 200
    if request.method == "POST" and form.is_valid():
        try:
            return _first_step(request, form)
        except Refusal as refusal:
            status = refused(form, refusal)
    page = {
        "form": form,
        "next": entrance.next_of(request),
        "kept": kept.waiting(request),
        "ended": entrance.OWNER in request.session,
        "passkeys": asking.place_of(request).fit,
    }
    return render(request, "door/sign_in.html", page, status=status)


def _first_step(request: HttpRequest, form: SignInForm) -> HttpResponse:
    said = form.cleaned_data
    if (answer := asking.answer_in(request, said["passkey"])) is not None:
        return _let_in(request, sign_in.by_passkey(answer), entrance.next_of(request))
    staff = sign_in.first_step(username=said["username"], password=said["password"])
    if not sign_in.needs_second(staff):
        return _let_in(request, sign_in.come_in(staff, Shown.PASSWORD), entrance.next_of(request))
    half_in.keep(request, staff, entrance.next_of(request))
    return redirect("sign_in_second")


@login_not_required
@sensitive_post_parameters("one_time_code", "passkey")
@require_http_methods(["GET", "HEAD", "POST"])
def second_step_page(request: HttpRequest) -> HttpResponse:
    """Ask for the second factor of whoever gave the right password."""
    staff = half_in.who(request)
    if staff is None:
        return redirect("sign_in")
    form, status = SecondStepForm(request, staff), 200
    if request.method == "POST" and form.is_valid():
        try:
            answer = asking.answer_in(request, form.cleaned_data["passkey"])
            proof = Proof(code=form.cleaned_data["one_time_code"], passkey=answer)
            return _let_in(request, sign_in.second_step(staff, proof), half_in.next_page(request))
        except Refusal as refusal:
            status = refused(form, refusal)
    page = {"form": form, "who": staff.name, "kept": kept.waiting(request)}
    return render(request, "door/second_step.html", page, status=status)


@login_not_required
@require_POST
def ask_passkey_at_door(request: HttpRequest) -> HttpResponse:
    """What the browser needs to ask for a passkey: of whoever took the first step, else of anybody."""
    return JsonResponse(asking.ask_one_of(request, half_in.who(request)))


@login_not_required
@entrance.poll
@require_GET
def code_now(request: HttpRequest) -> JsonResponse:
    """The demo only: the code that is good now, for who is at the second step or signed in. Elsewhere not found."""
    staff = signed_in(request) if request.user.is_authenticated else half_in.who(request)
    said = asking.said_in_demo(staff) if staff is not None else ""
    return JsonResponse({"said": said}, status=200 if said else 404)


def _let_in(request: HttpRequest, come: Come, wanted: str) -> HttpResponse:
    half_in.drop(request)
    staff, at = come.staff, clock.now()
    wanted = entrance.way_back(request, staff, wanted)
    login(request, staff, backend=BACKEND)
    shown = Assurance.TWO_FACTORS if come.shown.both else Assurance.PASSWORD
    entrance.begin(request, zone=staff.site.time_zone, at=at, shown=shown)
    form = kept.waiting(request)
    response = redirect((form.page if form else "") or wanted or first_page(staff, at))
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
    assurance.need(Assurance.PASSWORD)
    actor, form = signed_in(request), PasswordForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            data = form.cleaned_data
            own_password.change_password(actor=actor, old=data["old_password"], new=data["new_password"])
            update_session_auth_hash(request, actor)
            messages.success(request, _("Your password is changed. Sessions elsewhere have ended."))
            return redirect(first_page(actor, clock.now()))
        except Refusal as refusal:
            return render(request, "door/password.html", {"form": form}, status=refused(form, refusal))
    return render(request, "door/password.html", {"form": form})


@require_POST
def put_away(request: HttpRequest) -> HttpResponse:
    """Put a kept form away, unsent."""
    form = kept.waiting(request)
    kept.drop(request)
    messages.success(request, _("Put away. Nothing was recorded."))
    return redirect(form.page if form else first_page(signed_in(request), clock.now()))
