"""How much one account, or one address without an account, may ask for in a while.

Counted in the broker's cache, so that it holds across processes. Where that does not answer, each process counts in its
own memory with the same numbers: the limits are then looser (once a process) and never gone, and nobody is kept from
recording because a broker is down. Wrong passwords are counted in the database instead (clinic/staff/attempts.py): they
must be counted exactly, and without a database nobody comes in anyway.

A view says of itself what it costs, `@limited("search")`; whoever says nothing is a page, a poll or a call of the API.
Numbers (settings.LIMITS): common practice, no source.
"""

from __future__ import annotations

import hashlib
import logging
import threading
from collections.abc import Callable
from datetime import datetime
from functools import cache
from typing import Any, TypeVar

import redis
from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.utils.translation import gettext as _

from clinic import clock
from clinic.audit import trail
from clinic.errors import Refusal
from clinic.language import dates
from clinic.staff.models import Staff
from clinic.web.entrance import is_poll
from clinic.web.faults import said
from clinic.web.origin import API, address_of, counted_as

View = TypeVar("View", bound=Callable[..., Any])
log = logging.getLogger(__name__)
SPARED_SECONDS = 10  # how long a broker that did not answer is not asked again
MOST_KEYS = 10_000  # what a process keeps in its memory


class TooMany(Refusal):
    """More than one account or address may ask for."""

    code = "too_many"
    status = 429

    def __init__(self, wait: int, *, first: bool) -> None:
        super().__init__(
            _("That was too much in a short time: nothing was done. Wait {words} and try again.").format(
                words=_words(wait)
            )
        )
        self.wait, self.first = wait, first


def limited(kind: str) -> Callable[[View], View]:
    """Mark a view with what it costs: a kind of settings.LIMITS."""

    def mark(view: View) -> View:
        view.limit = kind  # type: ignore[attr-defined]  # a mark on a function
        return view

    return mark


def count(kind: str, who: str, *, at: datetime) -> int:
    """Count one request; raises TooMany beyond the limit. Returns how many there were in this while."""
    most, seconds = settings.LIMITS[kind]
    now = int(at.timestamp())
    key = f"limit:{kind}:{now // seconds}:{hashlib.sha256(who.encode()).hexdigest()[:24]}"
    number = _counted(key, seconds, now)
    if number > most:
        raise TooMany(seconds - now % seconds, first=number == most + 1)
    return number


def count_for(actor: Staff, kind: str, *, at: datetime) -> None:
    """Count one request of somebody who is known. The first beyond the limit leaves a row in the trail."""
    try:
        count(kind, str(actor.pk), at=at)
    except TooMany as fault:
        if fault.first:
            detail = {"kind": kind, "most": settings.LIMITS[kind][0]}
            trail.record(actor, "limit.reached", "staff", actor.reference, at=at, detail=detail)
        raise


class Limits:
    """Counts every request that has found its view, before the view begins."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through."""
        return self._get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponseBase | None:
        """Count, and answer in place of the view where it is too much."""
        at = clock.now()
        try:
            if isinstance(request.user, Staff):
                count_for(request.user, kind_of(request, view), at=at)
            else:
                programme = request.path.startswith(API) and "Authorization" in request.headers  # no token opens a page
                count("caller" if programme else "stranger", counted_as(address_of(request)), at=at)
        except TooMany as fault:
            return _refused(request, fault)
        return None


def kind_of(request: HttpRequest, view: Any) -> str:
    """What a view costs: what it says itself, else by what it is."""
    said_itself = getattr(view, "limit", None) or getattr(getattr(view, "cls", None), "limit", None)
    if said_itself:
        return str(said_itself)
    if is_poll(view):
        return "poll"
    return "api" if request.path.startswith(API) else "page"


def _refused(request: HttpRequest, fault: TooMany) -> HttpResponse:
    if request.path.startswith(API) or "application/json" in request.headers.get("Accept", ""):
        answer: HttpResponse = JsonResponse({"detail": fault.sentence, "code": fault.code}, status=429)
    else:
        answer = said(request, 429, _("Too much at once"), fault.sentence)
    answer.headers["Retry-After"] = str(fault.wait)
    return answer


# --- counting ---------------------------------------------------------------------------------------------------------
_memory: dict[str, int] = {}
_lock = threading.Lock()
_spared_until = 0


@cache
def _broker() -> redis.Redis:
    return redis.Redis.from_url(settings.CACHE_URL, socket_timeout=0.25, socket_connect_timeout=0.25)


def _counted(key: str, seconds: int, now: int) -> int:
    """Count in the broker's cache; in our own memory where it does not answer."""
    global _spared_until
    if now >= _spared_until:
        try:
            asked = _broker().pipeline(transaction=False)
            asked.incr(key)
            asked.expire(key, seconds)
            return int(asked.execute()[0])
        except redis.RedisError as fault:
            _spared_until = now + SPARED_SECONDS
            log.warning("limits are counted in this process for a while: %s", fault)
    with _lock:
        if key not in _memory and len(_memory) >= MOST_KEYS:
            del _memory[next(iter(_memory))]  # the one that began first
        _memory[key] = _memory.get(key, 0) + 1
        return _memory[key]


def _words(seconds: int) -> str:
    return dates.minutes(-(-seconds // 60)) if seconds > 60 else dates.seconds(seconds)
