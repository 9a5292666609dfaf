"""The Protocol page, and adopting what stands on it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from checklists.adoption.forms import AdoptForm
from checklists.adoption.selectors import protocol_page
from checklists.adoption.services import adopt_protocol
from clinic import clock
from clinic.errors import Refusal
from clinic.web.forms import refused, signed_in


@require_http_methods(["GET", "POST"])
def protocol(request: HttpRequest) -> HttpResponse:
    """Every threshold with its source; a clinic lead puts their name to them."""
    actor, status = signed_in(request), 200
    page = protocol_page(actor, at=clock.now())
    form = AdoptForm(request, actor, initial={"digest": page.digest})
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                adopt_protocol(actor=actor, proof=form.proof(), digest=form.cleaned_data["digest"])
            except Refusal as refusal:
                status = refused(form, refusal)
            else:
                messages.success(
                    request,
                    _("{reference} is adopted. From now on people can be taken on.").format(reference=page.reference),
                )
                return redirect("protocol")
    return render(request, "adoption/protocol.html", {"page": page, "form": form}, status=status)
