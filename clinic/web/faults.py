"""What a page says when something is refused, missing, broken or gone. The API has a mapping of its own.

A page for a broken or missing database touches neither database nor session, and comes back by itself when all is well.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.audit.refused import note_refused
from clinic.errors import Refusal
from clinic.language.text import Text
from clinic.staff.models import Staff
from clinic.web import entrance, kept
from clinic.web.origin import API
from clinic.web.shell import Language

DATABASE_GONE = (OperationalError, InterfaceError)
HEADS: dict[int, Text] = {
    403: gettext_lazy("Not yours to do"),
    404: gettext_lazy("Nothing here"),
    409: gettext_lazy("It contradicts what stands"),
    410: gettext_lazy("Erased"),
    412: gettext_lazy("Somebody was quicker"),
    422: gettext_lazy("That does not make sense"),
}


class Refusals:
    """Turns a refusal of a service, and a database that is gone, into a page. Refused access leaves a trail row."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and see to the answer."""
        return self._get_response(request)

    def process_exception(self, request: HttpRequest, fault: Exception) -> HttpResponse | None:
        """A page for what we know; nothing for what we do not."""
        if request.path.startswith(API):
            return None
        if isinstance(fault, DATABASE_GONE):
            return no_database(request)
        if not isinstance(fault, Refusal):
            return None
        if isinstance(request.user, Staff) and request.resolver_match:
            note_refused(request.user, fault, request.path, request.resolver_match.kwargs)
        head = HEADS.get(fault.status, _("Not done"))
        return said(request, fault.status, head, fault.sentence, reasons=fault.reasons)


def said(request: HttpRequest, status: int, head: Text, sentence: Text, **more: Any) -> HttpResponse:
    """A page, or a plate for a page that swaps fragments, that says what was refused and what to do."""
    fragment = request.headers.get("HX-Request") == "true"
    template = "errors/fragment.html" if fragment else "errors/page.html"
    return render(request, template, {"status": status, "head": head, "sentence": sentence, **more}, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """400"""
    return said(request, 400, _("Not understood"), _("The request could not be read. Go back and send it again."))


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """403 that no service gave."""
    return said(request, 403, HEADS[403], _("Your role does not include this. Ask a clinic lead."))


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """404 for an address that no page has."""
    return said(
        request, 404, HEADS[404], _("There is no page at this address. Check the link, or begin again from the top.")
    )


def broken(request: HttpRequest) -> HttpResponse:
    """500, or 503 where it is the database that is gone."""
    if isinstance(sys.exception(), DATABASE_GONE):
        return no_database(request)
    return _without_database(
        request,
        500,
        _("Something broke here"),
        _(
            "The fault is ours and has been written to the log. Nothing was half done. Go back and try "
            "again; if it breaks again, write down the time and tell whoever keeps the server."
        ),
    )


def no_database(request: HttpRequest) -> HttpResponse:
    """503: says so, and asks again by itself; what had been typed stays on the page to be sent again."""
    response = _without_database(
        request,
        503,
        _("The record cannot be reached"),
        _(
            "The database does not answer, or cannot take anything in. Nothing that you sent just now "
            "was recorded, and nothing recorded is lost. This page looks again by itself and goes on "
            "when the database is back."
        ),
    )
    response.headers["Retry-After"] = "10"
    return response


def _without_database(request: HttpRequest, status: int, head: str, sentence: str) -> HttpResponse:
    fields = kept.typed_fields(request.POST.lists()) if request.method == "POST" else []
    page = {
        "shell": {
            "clinic": settings.CLINIC_NAME,
            "home": "/",
            "demo": settings.DEMO,
            "language": Language.present(),
        },
        "status": status,
        "head": head,
        "sentence": sentence,
        "again": request.method in ("GET", "HEAD"),
        "form": kept.Kept("", request.get_full_path(), "", fields, "") if fields else None,
        "csrf": request.COOKIES.get(settings.CSRF_COOKIE_NAME, ""),
    }
    return HttpResponse(render_to_string("errors/gone.html", page), status=status)


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form from before the last sign-in, or from another site: our own is shown again, a stranger's is refused."""
    if not _from_here(request) or request.path.startswith(API):
        return said(
            request, 403, _("Refused"), _("This form did not come from a page of this clinic. Nothing was done.")
        )
    if request.path == reverse("sign_in"):
        return HttpResponseRedirect(request.get_full_path())
    if not request.user.is_authenticated:
        return entrance.to_sign_in(request)
    kept.keep(request, str(request.user.pk))
    return HttpResponseRedirect(kept.page_of(request))


def _from_here(request: HttpRequest) -> bool:
    """Whether the browser says that a page of this server sent it."""
    origin = request.headers.get("Origin")
    if origin is not None:
        return bool(origin == f"{request.scheme}://{request.get_host()}")
    return request.headers.get("Sec-Fetch-Site") == "same-origin"
