"""In which language a request is answered: the account's own; before sign-in the one chosen at the door (a cookie),
else what the browser asks for.

Two doors, because the account is known late: the outer one listens to the browser and puts everything back afterwards,
the inner one to the account.
"""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers

from clinic.language import tags

Answer = Callable[[HttpRequest], HttpResponse]


class LanguageOfBrowser:
    """The language chosen at this browser's door, or the best of those that it asks for."""

    def __init__(self, get_response: Answer) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer in it, say in which language the answer is, and leave nothing behind."""
        with translation.override(translation.get_language_from_request(request)):
            response = self._get_response(request)
            response.headers.setdefault("Content-Language", tags.written(tags.present()))
            patch_vary_headers(response, ("Accept-Language",))
            return response


class LanguageOfStaff:
    """The language that who is signed in has chosen; the browser's where they have chosen none."""

    def __init__(self, get_response: Answer) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Go on in it; the outer door puts it back."""
        if request.user.is_authenticated and (own := tags.known(request.user.language)):
            translation.activate(own)
        return self._get_response(request)
