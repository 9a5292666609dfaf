"""Headers that keep people's pages out of caches and unneeded browser powers off."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

PERMISSIONS = "camera=(), microphone=(), geolocation=(), payment=(), usb=()"


class PrivacyHeaders:
    """Nothing that was made for one person is stored by a browser or anything on the way, unless its view says so."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and see to the answer."""
        response = self._get_response(request)
        # an answer with an ETag is meant to be kept by its reader and asked about again
        response.headers.setdefault("Cache-Control", "private, no-cache" if response.has_header("ETag") else "no-store")
        response.headers.setdefault("Permissions-Policy", PERMISSIONS)
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return response
