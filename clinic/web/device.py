"""What every answer tells the device that asked: what time it is here, and whether it was revoked.

A tablet stamps what is recorded on it with the server's time: it learns how wrong its own clock is from every answer. A
device that a lead has revoked is told so as soon as nobody is signed in on it, and empties itself
(clinic/static/clinic/device/leave.js).
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from clinic import clock
from clinic.web import tablet

NOW, DEVICE = "X-Now", "X-Device"


class TellsDevice:
    """Stands inside everything that decides who is signed in."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and say both. The database is asked of a stranger who brings a tablet's cookie."""
        response = self._get_response(request)
        response.headers[NOW] = clock.now().isoformat(timespec="milliseconds")
        if tablet.NAME in request.COOKIES and not request.user.is_authenticated and tablet.is_revoked(request):
            response.headers[DEVICE] = "revoked"
        return response
