"""What was typed survives a session that ended meanwhile: kept for its author, shown again, never sent again by itself.

The form that could not be taken lies in the browser's new, empty session on the server. Signed in again, its author
(and nobody else at that tablet) finds the form filled in again, may look through it, and sends it or puts it away.
Passwords, PINs, codes and files are never kept.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme

from clinic import clock

KEY = "kept_form"
HELD_FOR = timedelta(minutes=30)
MOST_CHARACTERS = 100_000
_NEVER = ("password", "csrfmiddlewaretoken", "one_time_code", "passkey")
_NEVER_NAMED = frozenset({"pin", "again", "app_code"})  # whole names: a piece of these stands in many a harmless one


@dataclass(frozen=True, slots=True)
class Kept:
    """A filled-in form: whose, where it was sent, on which page it stood, what was in it, when."""

    person: str
    path: str
    page: str
    fields: list[list[str]]
    at: str

    @property
    def typed(self) -> list[tuple[str, str, str]]:
        """Name, words for the name, value: for a page that knows nothing else about the form."""
        return [(name, name.rpartition("-")[2].replace("_", " "), value) for name, value in self.fields]


def typed_fields(posted: Iterable[tuple[str, list[str]]]) -> list[list[str]]:
    """The fields of a posted form that may be kept, in their order."""
    return [
        [name, value]
        for name, values in posted
        for value in values
        if name.rpartition("-")[2].lower() not in _NEVER_NAMED and not any(word in name.lower() for word in _NEVER)
    ]


def page_of(request: HttpRequest) -> str:
    """The page on which the form stood: where the browser says that it came from, on this server; else its address."""
    came = request.headers.get("Referer", "")
    if url_has_allowed_host_and_scheme(came, {request.get_host()}, require_https=request.is_secure()):
        parts = urlsplit(came)
        page = parts.path + (f"?{parts.query}" if parts.query else "")
        # a path that begins with two strokes would lead to another host
        if page.startswith("/") and url_has_allowed_host_and_scheme(page, None):
            return page
    return request.path


def keep(request: HttpRequest, person: str) -> bool:
    """Keep what was posted in the browser's session. False where there is nothing to keep, too much, or nobody's."""
    if not person:
        return False
    fields = typed_fields(request.POST.lists())
    if not any(value.strip() for _, value in fields) or sum(len(value) for _, value in fields) > MOST_CHARACTERS:
        return False
    at = clock.now().isoformat()
    if not request.user.is_authenticated:
        request.session.set_expiry(HELD_FOR)  # a stranger's session holds nothing else, and goes with it
    request.session[KEY] = asdict(Kept(person, request.get_full_path(), page_of(request), fields, at))
    return True


def waiting(request: HttpRequest) -> Kept | None:
    """The form that waits for who is signed in; somebody else's is nobody's to see and goes."""
    stored = request.session.get(KEY)
    if not stored:
        return None
    form = Kept(**stored)
    user = getattr(request, "user", None)
    whose = str(user.pk) if user is not None and user.is_authenticated else ""
    stranger = bool(form.person and whose and form.person != whose)
    if stranger or clock.now() - datetime.fromisoformat(form.at) > HELD_FOR:
        drop(request)
        return None
    return form


def drop(request: HttpRequest) -> None:
    """The form was sent, or put away."""
    request.session.pop(KEY, None)
