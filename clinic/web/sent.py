"""What may be sent at all, before anything looks at it: which methods, how much, no files, and nothing of the API in
plain text.

Sizes are those that the request announces: a body without a length is not read by the server.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.core.exceptions import RequestDataTooBig, SuspiciousFileOperation
from django.core.files.uploadhandler import FileUploadHandler
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext_lazy

from clinic.web.faults import said
from clinic.web.origin import API

METHODS = frozenset({"GET", "HEAD", "OPTIONS", "POST", "PUT", "PATCH", "DELETE"})
_SENTENCE = {
    403: (gettext_lazy("Refused"), gettext_lazy("This address answers over HTTPS only. Nothing was done.")),
    405: (gettext_lazy("Not understood"), gettext_lazy("No address here takes that method.")),
    413: (gettext_lazy("Too much at once"), gettext_lazy("This is more than any form here holds. Nothing was taken.")),
}


class NoFiles(FileUploadHandler):
    """No form here takes a file: one that comes is refused before its first byte is written anywhere."""

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """A file begins."""
        raise SuspiciousFileOperation("no form here takes a file")

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        """Never reached."""

    def file_complete(self, file_size: int) -> None:
        """Never reached."""


class Bounds:
    """Refuses what no honest request is: a method that nobody serves, a body beyond its bound, the API without TLS."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, or say why not."""
        status = _fault(request)
        if not status:
            return self._get_response(request)
        if request.path.startswith(API):
            return HttpResponse(status=status)  # api.problems makes a problem of it
        head, sentence = _SENTENCE[status]
        return said(request, status, head, sentence)

    def process_exception(self, request: HttpRequest, fault: Exception) -> HttpResponse | None:
        """A body that turns out too large while it is read."""
        if isinstance(fault, RequestDataTooBig) and not request.path.startswith(API):
            return said(request, 413, *_SENTENCE[413])
        return None


def _fault(request: HttpRequest) -> int:
    """The status with which a request is refused, or 0."""
    if request.method not in METHODS:
        return 405
    if settings.HTTPS and request.path.startswith(API) and not request.is_secure():
        return 403
    return 413 if _announced(request) > _most(request) else 0


def _announced(request: HttpRequest) -> int:
    length = str(request.META.get("CONTENT_LENGTH") or "0")
    return int(length) if length.isascii() and length.isdigit() and len(length) < 19 else 0


def _most(request: HttpRequest) -> int:
    known = "Authorization" in request.headers or settings.SESSION_COOKIE_NAME in request.COOKIES
    if not known:
        return int(settings.STRANGER_MAX_BYTES)
    api = request.path.startswith(API)
    return int(settings.DATA_UPLOAD_MAX_MEMORY_SIZE if api else settings.FORM_MAX_BYTES)
