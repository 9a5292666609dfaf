"""Making a proof bundle, for the records officer; checking one, for everybody."""

from __future__ import annotations

from csp.constants import NONE
from csp.decorators import csp_replace
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods

from checklists.proof.forms import ProofForm
from checklists.proof.services import export_proof
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Denied, Refusal
from clinic.web.forms import signed_in
from clinic.web.limits import limited

ALONE = {"connect-src": [NONE], "form-action": [NONE], "worker-src": [NONE], "manifest-src": [NONE]}
"""The page that checks a bundle can reach nothing and send nothing, whatever lies in the bundle."""


@login_not_required
@require_GET
@csp_replace(ALONE)
def verify(request: HttpRequest) -> HttpResponse:
    """The page that checks a bundle in the browser of whoever has one."""
    return render(request, "proof/verify.html")


@limited("export")
@require_http_methods(["GET", "POST"])
def proof(request: HttpRequest) -> HttpResponse:
    """Ask what the bundle is to be about; give it as a file."""
    actor, status = signed_in(request), 200
    access.permit(actor, Action.EXPORT_RECORD, clock.now())
    form = ProofForm(request.POST or None, initial={"reference": request.GET.get("about", "")[:80]})
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                made = export_proof(actor=actor, reference=form.cleaned_data["reference"], notes=form.notes())
            except Denied:
                raise
            except Refusal as refusal:
                form.add_error(None, refusal.sentence)
                status = refusal.status
            else:
                return HttpResponse(
                    made.content,
                    content_type="application/zip",
                    headers={"Content-Disposition": f'attachment; filename="{made.name}"'},
                )
    return render(request, "proof/proof.html", {"form": form}, status=status)
