"""Making a proof bundle, for the records officer; checking one, for everybody."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from csp.constants import NONE
from csp.decorators import csp_replace
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET, require_http_methods

from checklists.proof.choosing import choice_of
from checklists.proof.forms import ProofForm
from checklists.proof.services import Exported, export_proof, note_choice_opened
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Denied, Refusal
from clinic.web.forms import signed_in
from clinic.web.limits import limited

if TYPE_CHECKING:
    from clinic.staff.models import Staff

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
    """Ask what the bundle is to be about, and of an episode what it is to hold; give it as a file."""
    actor, status = signed_in(request), 200
    access.permit(actor, Action.EXPORT_RECORD, clock.now())
    form = ProofForm(_asked(request))
    try:
        if form.is_bound and (made := _made(actor, form, now=request.method == "POST")):
            return _file(made)
        status = 422 if form.errors else 200
    except Denied:
        raise
    except Refusal as refusal:
        form.add_error(None, refusal.sentence)
        status = refusal.status
    if form.choice is not None:
        note_choice_opened(actor=actor, episode_id=form.choice.episode_id)
    return render(request, "proof/proof.html", {"form": form, "choice": form.choice}, status=status)


def _asked(request: HttpRequest) -> Mapping[str, str] | None:
    """What was sent, or what a link names; nothing where nothing was asked yet."""
    about = request.GET.get("about", "")[:80]
    return request.POST if request.method == "POST" else {"reference": about} if about.strip() else None


def _made(actor: Staff, form: ProofForm, *, now: bool) -> Exported | None:
    """The bundle, if it shall be made `now`; nothing where something is wrong or still to be chosen."""
    if not form.is_valid():
        return None
    form.offer(choice_of(actor, form.cleaned_data["reference"], at=clock.now()))
    about = form.about()
    return export_proof(actor=actor, reference=about, notes=form.notes()) if now and about else None


def _file(made: Exported) -> HttpResponse:
    """The zip file."""
    headers = {"Content-Disposition": f'attachment; filename="{made.name}"'}
    return HttpResponse(made.content, content_type="application/zip", headers=headers)
