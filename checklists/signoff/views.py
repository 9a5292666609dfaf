"""Signing a skill off with the evidence on screen, and taking a signature back."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from checklists.person.services import note_opened
from checklists.signoff.forms import CountersignForm, SignForm, WithdrawForm
from checklists.signoff.page import sign_off_page
from checklists.signoff.services import sign_off, withdraw_sign_off
from checklists.words import said
from clinic import clock
from clinic.errors import Refusal
from clinic.web.acts import Act, answer
from clinic.web.forms import refused, signed_in

SIGNED = gettext_lazy("Signed off.")
WITHDRAWN = gettext_lazy("The sign-off is withdrawn. It stays in the record.")


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def sign(request: HttpRequest, episode_id: UUID, skill: str) -> HttpResponse:
    """The page, and the signature. What is refused is said with its reasons above the statement."""
    actor, status = signed_in(request), 200
    page = sign_off_page(actor, episode_id, skill, at=clock.now())
    if request.method == "GET":
        note_opened(actor=actor, episode_id=episode_id, page=f"sign-off {skill}")
    kind = CountersignForm if page.ready.may_override else SignForm
    form = kind(request, actor, initial={"digest": page.ready.digest})
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                _sign(request, form, episode_id, skill)
                return redirect("person", episode_id)
            except Refusal as refusal:
                status = refused(form, refusal)
    return render(request, "signoff/sign_off.html", {"page": page, "form": form}, status=status)


def _sign(request: HttpRequest, form: SignForm, episode_id: UUID, skill: str) -> None:
    said = form.cleaned_data
    sign_off(
        actor=signed_in(request),
        episode_id=episode_id,
        skill=skill,
        digest=said["digest"],
        meaning=said["meaning"],
        proof=form.proof(),
        countersign=form.countersign(),
    )
    messages.success(request, SIGNED)


@sensitive_post_parameters()
@require_http_methods(["GET", "POST"])
def withdraw(request: HttpRequest, episode_id: UUID, skill: str) -> HttpResponse:
    """Take a signature back, with the reason and the password."""
    actor = signed_in(request)
    page = sign_off_page(actor, episode_id, skill, at=clock.now())
    act = Act(
        title=_("Withdraw the sign-off: {title}").format(title=said(page.ready.title)),
        submit=_("Withdraw"),
        back=reverse("sign_off", args=[episode_id, skill]),
        over=page.plan.whose,
        caution=_(
            "The evidence and the ladder of this skill begin anew. The signature stays in the record, withdrawn."
        ),
        done=WITHDRAWN,
        template="signoff/withdraw.html",
    )
    form = WithdrawForm(request, actor)
    do = partial(withdraw_sign_off, actor=actor, episode_id=episode_id, skill=skill)
    return answer(request, act, form, lambda **said: do(reason=said["reason"], proof=form.proof()))
