"""The doors of the pages to the database: nobody while nobody is known, then whoever is signed in.

Programmes come with a token, which is looked at inside the API's endpoint: that is where they are somebody
(api/endpoint.py). What was said holds for one request and never for the next, however it ends.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse

from clinic import clock
from clinic.access import standing
from clinic.access.standing import NOBODY


class AsNobody:
    """Whoever was here before is gone; looking for session and account is nobody's business."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and see to the answer."""
        with standing.standing_as(NOBODY):
            return self._get_response(request)


class AsWhoIsSignedIn:
    """From here on the database is asked as whoever the session says, as of this instant."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and see to the answer; one that is made while it is sent is made as the same."""
        token = standing.stand(request.user, clock.now()) if request.user.is_authenticated else standing.stand(NOBODY)
        try:
            response = self._get_response(request)
            now = standing.present()
        finally:
            standing.leave(token)
        if response.streaming and not getattr(response, "is_async", False):
            streaming = cast("StreamingHttpResponse", response)
            pieces: Any = iter(streaming)
            streaming.streaming_content = standing.throughout(pieces, now)
        return response
