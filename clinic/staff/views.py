"""Staff: who works here, as what, and who is authorised for what until when."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from clinic import access, clock
from clinic.access import Action
from clinic.staff import identity, selectors
from clinic.staff.roles import KneeFeature, Role
from clinic.staff.terms import SOON
from clinic.web.forms import signed_in


def staff_list(request: HttpRequest) -> HttpResponse:
    """Everybody, with their papers side by side."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.SEE_STAFF, at)
    role, former = request.GET.get("role", ""), "former" in request.GET
    shown = role if role in Role.values else ""
    page = {
        "rows": selectors.staff_list(actor, at=at, role=shown, former=former),
        "sites": selectors.sites(actor, at=at),
        "features": [title for _, title in KneeFeature.choices],
        "roles": Role.choices,
        "role": shown,
        "former": former,
        "soon": SOON.days,
    }
    return render(request, "staff/list.html", page)


def staff_member(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """One member of staff and everything that was granted to them."""
    actor, at = signed_in(request), clock.now()
    page = selectors.staff_page(actor, staff_id, at=at)
    check = identity.unchecked(actor, page.staff, at=at)
    return render(request, "staff/member.html", {"page": page, "check": check, "soon": SOON.days})
