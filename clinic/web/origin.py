"""Says where a request came from, for the trail: which door, which address."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from clinic.audit import trail
from clinic.audit.models import Origin

API = "/api/"


def address_of(request: HttpRequest) -> str:
    """The other end's address. Behind a proxy of the clinic's own, the last address that this proxy added."""
    if settings.SECURE_PROXY_SSL_HEADER:
        hops = request.headers.get("X-Forwarded-For", "").split(",")
        if hops[-1].strip():
            return hops[-1].strip()[:45]
    return str(request.META.get("REMOTE_ADDR", ""))[:45]


class ComesFrom:
    """Sets what `trail.came_from()` answers while a request is worked on."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and see to the answer."""
        # a page's own script asks the API with the session's cookie; a programme comes with a token
        programme = request.path.startswith(API) and "Authorization" in request.headers
        door = Origin.API if programme else Origin.PAGE
        token = trail.coming_from(trail.Came(door, address_of(request)))
        try:
            return self._get_response(request)
        finally:
            trail.left(token)
