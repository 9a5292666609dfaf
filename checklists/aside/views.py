"""The page of what was set aside, and what a lead does about it."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_POST

from checklists.aside.selectors import aside_page, held_words
from checklists.record import late
from clinic import clock
from clinic.errors import Conflict, Invalid
from clinic.web.forms import signed_in


@require_GET
def aside(request: HttpRequest) -> HttpResponse:
    """What was refused, and what waits."""
    return render(request, "aside/list.html", {"page": aside_page(signed_in(request), at=clock.now())})


@require_POST
def release(request: HttpRequest, held_id: UUID) -> HttpResponse:
    """Let a late fact into the record."""
    named = held_words(signed_in(request), held_id, at=clock.now())
    try:
        late.release_held(actor=signed_in(request), held_id=held_id)
        messages.success(
            request, _("Let in: {fact}. It stands in the record as its author sent it.").format(fact=named)
        )
    except (Conflict, Invalid) as refusal:
        messages.error(request, refusal.sentence)
    return redirect("aside")


@require_POST
def turn_away(request: HttpRequest, held_id: UUID) -> HttpResponse:
    """Do not let it in."""
    named = held_words(signed_in(request), held_id, at=clock.now())
    try:
        late.turn_away_held(actor=signed_in(request), held_id=held_id)
        said = _("Not let in: {fact}. Its sender is told so when it is sent again.").format(fact=named)
        messages.success(request, said)
    except Conflict as refusal:
        messages.error(request, refusal.sentence)
    return redirect("aside")


@require_POST
def settle(request: HttpRequest, refused_id: UUID) -> HttpResponse:
    """It has been seen to."""
    late.settle_refused(actor=signed_in(request), refused_id=refused_id)
    messages.success(request, _("Seen to: it no longer stands here."))
    return redirect("aside")
