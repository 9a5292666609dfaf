"""Errors as problem details (RFC 9457), each with the stable code of clinic.errors.

Three ways lead here: a Refusal of a service, an error of the framework inside a view, and whatever else answers below
/api/ with an error (an address that does not exist, a failed precondition, a fault). All come out in one shape.
"""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

import orjson
from django.core.exceptions import RequestDataTooBig
from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from drf_standardized_errors.formatter import ExceptionFormatter
from drf_standardized_errors.handler import ExceptionHandler
from drf_standardized_errors.types import ErrorResponse
from rest_framework import exceptions, serializers
from rest_framework.response import Response

from clinic.audit.refused import note_refused
from clinic.errors import Refusal

MEDIA_TYPE = "application/problem+json"


class FieldErrorShape(serializers.Serializer[dict[str, Any]]):
    """One field that was at fault."""

    field = serializers.CharField(allow_null=True)
    code = serializers.CharField()
    detail = serializers.CharField()


class ProblemShape(serializers.Serializer[dict[str, Any]]):
    """A problem (RFC 9457) with our extensions `code`, `reasons` and `errors`."""

    type = serializers.CharField(default="about:blank")
    title = serializers.CharField()
    status = serializers.IntegerField(min_value=400, max_value=599)
    detail = serializers.CharField()
    code = serializers.CharField()
    reasons = serializers.ListField(child=serializers.CharField())
    errors = FieldErrorShape(many=True)  # type: ignore[assignment]  # RFC 9457 names no field so; ours does


def problem(
    status: int,
    detail: str,
    *,
    code: str,
    reasons: tuple[str, ...] = (),
    errors: tuple[dict[str, str | None], ...] = (),
) -> dict[str, Any]:
    """A problem as a plain object."""
    return {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
        "code": code,
        "reasons": list(reasons),
        "errors": list(errors),
    }


class RefusedByService(exceptions.APIException):
    """A Refusal on its way through the framework."""

    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.sentence, refusal.code)
        self.status_code = refusal.status
        self.wait = getattr(refusal, "wait", None)  # the seconds of Retry-After
        self.refusal = refusal


class DatabaseGone(exceptions.APIException):
    """The database cannot be reached, or cannot write."""

    status_code = 503
    default_code = "unavailable"
    default_detail = gettext_lazy("The database cannot be reached. Nothing was lost; try again in a minute.")


class TooLarge(exceptions.APIException):
    """A body that no honest request reaches."""

    status_code = 413
    default_code = "too_large"
    default_detail = gettext_lazy("This is too much at once: nothing was taken. Send it in smaller parts.")


class Handler(ExceptionHandler):
    """Lets refusals through and says which media type an error has."""

    def convert_known_exceptions(self, exc: Exception) -> Exception:
        """A Refusal keeps its status and code; a database that is gone is said to be; the rest as usual."""
        if isinstance(exc, Refusal):
            return RefusedByService(exc)
        if isinstance(exc, OperationalError | InterfaceError):
            return DatabaseGone()
        if isinstance(exc, RequestDataTooBig):
            return TooLarge()
        return super().convert_known_exceptions(exc)

    def get_response(self, exc: exceptions.APIException, data: dict[str, Any]) -> Response:
        """The same answer with the media type of RFC 9457. Refused access leaves a row in the trail."""
        response = super().get_response(exc, data)
        request = self.context["request"]
        if request is not None and isinstance(exc, RefusedByService) and request.user.is_authenticated:
            note_refused(request.user, exc.refusal, request.path, self.context["kwargs"])
        response.content_type = MEDIA_TYPE
        return response


class Formatter(ExceptionFormatter):
    """Writes a problem."""

    def format_error_response(self, error_response: ErrorResponse) -> dict[str, Any]:
        """RFC 9457 with the code of the first error, and every field at fault."""
        first = error_response.errors[0]
        reasons = self.exc.refusal.reasons if isinstance(self.exc, RefusedByService) else ()
        fields = tuple({"field": e.attr, "code": e.code, "detail": e.detail} for e in error_response.errors)
        validation = isinstance(self.exc, exceptions.ValidationError)
        return problem(
            self.exc.status_code,
            _("Some fields are not right: ") + "; ".join(f"{e['field']}: {e['detail']}" for e in fields)
            if validation
            else first.detail,
            code=first.code if not validation else "invalid_fields",
            reasons=tuple(reasons),
            errors=fields if validation else (),
        )


_SENTENCES = {
    404: ("not_found", gettext_lazy("There is nothing at this address.")),
    405: ("method_not_allowed", gettext_lazy("This address does not take that method.")),
    413: ("too_large", gettext_lazy("This is too much at once: nothing was taken. Send it in smaller parts.")),
    429: (
        "too_many",
        gettext_lazy("Too many requests in a short time: nothing was done. Wait a little and send it again."),
    ),
    412: (
        "stale",
        gettext_lazy("Somebody else changed it meanwhile: fetch it again and repeat your change on what stands now."),
    ),
    403: (
        "denied",
        gettext_lazy("The request was refused. A page must send its CSRF token; a programme should send a token."),
    ),
    500: (
        "fault",
        gettext_lazy("Something went wrong here. Nothing was half done. It has been noted; try again in a minute."),
    ),
    503: ("unavailable", gettext_lazy("The database cannot be reached. Nothing was lost; try again in a minute.")),
}


class ProblemsBelowApi:
    """Middleware: whatever answers below /api/ with an error and is not a problem yet becomes one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass the request on; rewrite a bare error."""
        response = self.get_response(request)
        if not request.path.startswith("/api/") or response.status_code < 400:
            return response
        if str(response.get("Content-Type", "")).startswith(MEDIA_TYPE):
            return response
        code, sentence = _SENTENCES.get(response.status_code, ("refused", HTTPStatus(response.status_code).description))
        bare = HttpResponse(
            orjson.dumps(problem(response.status_code, str(sentence or _("The request was refused.")), code=code)),
            status=response.status_code,
            content_type=MEDIA_TYPE,
        )
        for header in ("Allow", "WWW-Authenticate", "Retry-After", "Cache-Control"):
            if header in response:
                bare[header] = response[header]
        return bare
