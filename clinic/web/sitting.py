"""The sitting of a request: kept in the session of the browser, and good for as long as the session has this key."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from django.contrib.sessions.backends.base import SessionBase
from django.http import HttpRequest, HttpResponse

from clinic.staff.sitting import sitting

if TYPE_CHECKING:
    from clinic.staff.models import Staff

KEY = "all_shown"


class OfSession:
    """Remembers in a session. A new key (signing in, a new password) is a new sitting."""

    def __init__(self, session: SessionBase) -> None:
        self._session = session

    def all_shown(self, staff: Staff) -> bool:
        """Whether this person has shown all components since this session got its key."""
        return bool(self._session.get(KEY) == self._mark(staff))

    def note_all_shown(self, staff: Staff) -> None:
        """They have now."""
        self._session[KEY] = self._mark(staff)

    def _mark(self, staff: Staff) -> list[str]:
        return [str(self._session.session_key), str(staff.pk)]


class SittingOfRequest:
    """Whoever is signed in at a browser signs in a sitting of theirs; a token has none."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through."""
        with sitting(OfSession(request.session) if request.user.is_authenticated else None):
            return self._get_response(request)
