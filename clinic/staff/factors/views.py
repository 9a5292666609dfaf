"""Your sign-in: second factors and recovery codes of one's own."""

from __future__ import annotations

import base64
from contextlib import suppress
from functools import partial
from uuid import UUID

import segno
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from clinic import clock
from clinic.access import Assurance, assurance
from clinic.errors import NotFound, Refusal
from clinic.staff.factors import asking, forms, selectors, services, totp, vault
from clinic.staff.factors.asking import ProofForm
from clinic.web.acts import Act, answer
from clinic.web.forms import refused, signed_in

PENDING = "factor_pending"  # the sealed secret of an app that is being added
ADDED = gettext_lazy("Added. From now on you are asked for it when you sign in.")


def your_sign_in(request: HttpRequest) -> HttpResponse:
    """What one signs in with."""
    assurance.need(Assurance.PASSWORD)
    page = selectors.sign_in_page(signed_in(request), at=clock.now())
    return render(request, "factors/page.html", {"page": page, "passkeys": asking.place_of(request).fit})


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def add_app(request: HttpRequest) -> HttpResponse:
    """Add an app: show its picture, take its first code."""
    assurance.need(Assurance.PASSWORD)
    actor = signed_in(request)
    form, status, secret = forms.AddApp(request, actor, change=True), 200, _pending_secret(request)
    if request.method == "POST" and form.is_valid():
        said, proof = form.cleaned_data, form.proof()
        try:
            services.add_app(actor=actor, proof=proof, name=said["name"], secret=secret, code=said["app_code"])
            del request.session[PENDING]
            messages.success(request, ADDED)
            return redirect("your_sign_in")
        except Refusal as refusal:
            status = refused(form, refusal)
    address = totp.address(secret, clinic=settings.CLINIC_NAME, username=actor.username)
    picture = segno.make(address, error="m").svg_inline(scale=5, border=2, omitsize=False)
    page = {"form": form, "letters": totp.spelled(secret), "picture": mark_safe(picture)}  # noqa: S308 - our drawing
    return render(request, "factors/add_app.html", page, status=status)


def _pending_secret(request: HttpRequest) -> bytes:
    """The secret that is being added: the same while the form is filled in, sealed where it waits."""
    about = f"pending of {signed_in(request).pk}"
    if kept := request.session.get(PENDING):
        with suppress(vault.Locked):  # sealed with a key that was changed meanwhile: begin anew
            return vault.opened(base64.b64decode(kept), about)
    secret = totp.a_secret()
    request.session[PENDING] = base64.b64encode(vault.seal(secret, about)).decode()
    return secret


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def add_passkey(request: HttpRequest) -> HttpResponse:
    """Add a passkey that the browser makes."""
    assurance.need(Assurance.PASSWORD)
    actor = signed_in(request)
    form, status = forms.AddPasskey(request, actor, change=True), 200
    if request.method == "POST" and form.is_valid():
        said, proof = form.cleaned_data, form.proof()
        fresh = asking.answer_in(request, said["made"], asking.ASKED_NEW)
        try:
            if fresh is None:
                form.add_error(None, _("The browser made no passkey. Try again, or add an app instead."))
                status = 422
            else:
                services.add_passkey(actor=actor, proof=proof, name=said["name"], answer=fresh)
                messages.success(request, ADDED)
                return redirect("your_sign_in")
        except Refusal as refusal:
            status = refused(form, refusal)
    return render(
        request, "factors/add_passkey.html", {"form": form, "fit": asking.place_of(request).fit}, status=status
    )


@require_POST
def ask_passkey(request: HttpRequest) -> HttpResponse:
    """What the browser needs to ask for one of the actor's passkeys."""
    assurance.need(Assurance.PASSWORD)
    return JsonResponse(asking.ask_one_of(request, signed_in(request)))


@require_POST
def ask_new_passkey(request: HttpRequest) -> HttpResponse:
    """What the browser needs to make a passkey for the actor."""
    assurance.need(Assurance.PASSWORD)
    return JsonResponse(asking.ask_for_new(request, signed_in(request)))


def _one(request: HttpRequest, factor_id: UUID) -> selectors.FactorRow:
    assurance.need(Assurance.PASSWORD)
    row = selectors.own_factor(signed_in(request), factor_id)
    if row is None:
        raise NotFound(_("There is no such factor, or it was removed already."))
    return row


@sensitive_post_parameters()
def rename_factor(request: HttpRequest, factor_id: UUID) -> HttpResponse:
    """Call a factor something else."""
    row = _one(request, factor_id)
    act = _act(_("Rename ‘{name}’").format(name=row.name), _("Rename"), done=_("Renamed."))
    form = forms.Rename(request, signed_in(request), change=True, initial={"name": row.name})
    do = partial(services.rename_factor, actor=signed_in(request), factor_id=factor_id)
    return answer(request, act, form, lambda **said: do(proof=form.proof(), name=said["name"]))


@sensitive_post_parameters()
def remove_factor(request: HttpRequest, factor_id: UUID) -> HttpResponse:
    """Take a factor out of use."""
    row = _one(request, factor_id)
    lead = _(
        "It opens nothing from then on, and your sessions elsewhere end. It cannot be brought back, only added anew."
    )
    act = _act(_("Remove ‘{name}’").format(name=row.name), _("Remove it"), lead=lead, done=_("Removed."))
    form = ProofForm(request, signed_in(request), change=True)
    do = partial(services.remove_factor, actor=signed_in(request), factor_id=factor_id)
    return answer(request, act, form, lambda **said: do(proof=form.proof()))


@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def recovery_codes(request: HttpRequest) -> HttpResponse:
    """Ten fresh recovery codes, shown this once."""
    assurance.need(Assurance.PASSWORD)
    actor = signed_in(request)
    form, status = ProofForm(request, actor, change=True), 200
    if request.method == "POST" and form.is_valid():
        try:
            codes = services.make_recovery_codes(actor=actor, proof=form.proof())
            return render(request, "factors/codes.html", {"codes": codes, "at": clock.now()})
        except Refusal as refusal:
            status = refused(form, refusal)
    lead = _(
        "Each opens once in place of your second factor. Those that you have now are void as soon as you make these."
    )
    act = _act(_("New recovery codes"), _("Make ten"), lead=lead)
    return render(request, act.template, {"act": act, "form": form}, status=status)


def _act(title: str, submit: str, *, lead: str = "", done: str = "") -> Act:
    back = reverse("your_sign_in")
    return Act(
        title=title, submit=submit, back=back, over=_("Your sign-in"), lead=lead, done=done, template="factors/act.html"
    )
