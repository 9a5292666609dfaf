"""Being signed in is the rule, an open page the exception; and a session ends when nobody uses it.

A view is open where it says so (`login_not_required`). A view that is asked by the page itself every few seconds says
`poll`: it is answered, and does not keep a session alive.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import urlencode

from django.conf import settings
from django.contrib.auth import logout
from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _

from clinic import clock
from clinic.access import Assurance, assurance
from clinic.staff import agents, sessions
from clinic.staff.factors.gate import FIRST, must_add_one
from clinic.staff.session_models import StaffSession
from clinic.staff.tablet import pins
from clinic.staff.tablet.services import note_seen
from clinic.web import kept, tablet
from clinic.web.forms import signed_in
from clinic.web.origin import API

if TYPE_CHECKING:
    from clinic.staff.models import Staff

View = TypeVar("View", bound=Callable[..., HttpResponse])
SEEN, SINCE, ZONE, OWNER = "seen_at", "signed_in_at", "zone", "signed_in_as"
SESSION = "staff_session"  # which row of clinic.staff.sessions this is
LAST = f"{settings.COOKIE_PREFIX}last_here"  # a signed cookie: whose a form is that is sent after its session has gone
ENDS_IN = "X-Session-Ends-In"  # what a page that asks by itself is told: seconds until an unused session is over
STAMP_EVERY = timedelta(seconds=5)  # a row is not written for every click
_SESSION_OF, _LEFT = "_staff_session", "_session_left"
OPEN_TO_GIVEN_PASSWORDS = {"password", "sign_out"}
ASKED_BY_EVERY_PAGE = {"alerts_tally", "watch_now"}  # polls that tell of nobody: those pages ask them too
OPEN_WITHOUT_SECOND = {
    *OPEN_TO_GIVEN_PASSWORDS,
    "your_sign_in",
    "add_app",
    "add_passkey",
    "ask_passkey",
    "ask_new_passkey",
}


def begin(request: HttpRequest, *, zone: str, at: datetime, shown: Assurance = Assurance.PASSWORD) -> StaffSession:
    """A session of who has just logged in begins: its age and idleness count from here, and times are shown in this
    zone. `shown` is how they have shown who they are; the request goes on with it."""
    began = sessions.begin(
        signed_in(request),
        shown,
        at=at,
        agent=agents.kind_of_device(request.headers.get("User-Agent", "")),
        tablet=tablet.tablet_of(request),
    )
    if shown > Assurance.PIN:
        pins.unlock(began.staff, at=at)
    assurance.come_in(shown)
    sessions.come_to(began)
    request.session[SESSION] = str(began.pk)
    request.session[SINCE] = request.session[SEEN] = at.isoformat()
    request.session[ZONE] = zone
    request.session.set_expiry(None)  # the usual one again, where a kept form had shortened it
    request.session.pop(OWNER, None)
    return began


def remember(response: HttpResponse, staff_id: object) -> None:
    """Let the browser know, signed, who came in last: it opens nothing, it only says whose an orphaned form is."""
    age, secure = settings.SESSION_HOURS * 3600, settings.SESSION_COOKIE_SECURE
    response.set_signed_cookie(LAST, str(staff_id), max_age=age, httponly=True, samesite="Lax", secure=secure)


def poll(view: View) -> View:
    """Mark a view that pages ask by themselves: being asked is no sign that anybody is there."""
    view.is_poll = True  # type: ignore[attr-defined]  # a mark on a function
    return view


def is_poll(view: object) -> bool:
    """Whether a view is one that pages ask by themselves."""
    return bool(getattr(view, "is_poll", False))


class IdleTimeOut:
    """Lets a session go on while it may: nobody has ended it, it was used within settings.IDLE_SECONDS (by PIN within
    settings.PIN_IDLE_MINUTES), it is no older than settings.SESSION_HOURS, and one by PIN comes from its own tablet.

    What follows acts with what was shown when it began (clinic.access.assurance); a stranger has shown nothing.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self._get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Let the request through, and see to the answer."""
        before, outside = assurance.come_in(Assurance.PIN), sessions.nowhere()
        try:
            if request.user.is_authenticated:
                self._admit(request, clock.now())
            answer = self._get_response(request)
            if (left := getattr(request, _LEFT, None)) is not None:
                answer[ENDS_IN] = str(max(0, round(left.total_seconds())))
            return answer
        finally:
            timezone.deactivate()
            sessions.left(outside)
            assurance.left(before)

    def process_view(self, request: HttpRequest, view: object, args: Any, kwargs: Any) -> None:
        """Somebody is there, unless the page asked by itself: then it is told how long nobody need be."""
        if request.user.is_authenticated and is_poll(view):
            setattr(request, _LEFT, self._left(request, clock.now()))
        if request.user.is_authenticated and not is_poll(view):
            at, seen = clock.now(), request.session.get(SEEN)
            if seen is None or at - datetime.fromisoformat(seen) >= STAMP_EVERY:
                request.session[SEEN] = at.isoformat()
                if (session := session_of(request)) is not None:
                    sessions.note_use(session, at)
                    if session.tablet is not None:
                        note_seen(session.tablet, at=at)

    def _admit(self, request: HttpRequest, at: datetime) -> None:
        """Go on with the session, or end it here."""
        session = sessions.live(request.session.get(SESSION), signed_in(request))
        if session is not None:
            sessions.come_to(session)
            if not self._is_over(request, session, at):
                setattr(request, _SESSION_OF, session)
                assurance.come_in(Assurance(session.assurance))
                timezone.activate(request.session.get(ZONE, settings.TIME_ZONE))
                return
            sessions.time_out(signed_in(request))
        owner = str(request.user.pk)
        logout(request)
        request.session[OWNER] = owner

    @staticmethod
    def _is_over(request: HttpRequest, session: StaffSession, at: datetime) -> bool:
        by_pin = session.assurance == Assurance.PIN
        if by_pin and (session.tablet is None or not tablet.holds(request, session.tablet)):
            return True
        seen, since = request.session.get(SEEN), request.session.get(SINCE)
        idle = seen is not None and at - datetime.fromisoformat(seen) > _may_be_idle(session)
        old = since is not None and at - datetime.fromisoformat(since) > timedelta(hours=settings.SESSION_HOURS)
        return idle or old

    @staticmethod
    def _left(request: HttpRequest, at: datetime) -> timedelta | None:
        """How long the session stays open if nobody uses it."""
        session, seen = session_of(request), request.session.get(SEEN)
        if session is None or seen is None:
            return None
        return datetime.fromisoformat(seen) + _may_be_idle(session) - at


def _may_be_idle(session: StaffSession) -> timedelta:
    if session.assurance == Assurance.PIN:
        return timedelta(minutes=settings.PIN_IDLE_MINUTES)
    return timedelta(seconds=settings.IDLE_SECONDS)


def session_of(request: HttpRequest) -> StaffSession | None:
    """The session of the page that asks."""
    found: StaffSession | None = getattr(request, _SESSION_OF, None)
    return found


class SignInRequired(LoginRequiredMiddleware):
    """Sends strangers to the sign-in page and keeps what they had typed; has people choose a password of their own."""

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponseBase | None:
        """Refuse strangers where the view is not open; then see to a password that a lead has given.

        A page whose script says for whom it speaks is told where somebody else is signed in by now: nothing that was
        recorded under one name is taken under another.
        """
        speaks_for = request.headers.get("X-Speaks-For", "")
        if speaks_for and request.user.is_authenticated and speaks_for != signed_in(request).reference:
            return JsonResponse({"signed_in": False, "detail": _("Somebody else is signed in here now.")}, status=401)
        if request.path.startswith(API) and getattr(request.user, "password_given_at", None) is not None:
            return JsonResponse({"detail": _("Choose a password of your own first, on the page.")}, status=403)
        if request.path.startswith(API) and request.user.is_authenticated and must_add_one(request.user, clock.now()):
            return JsonResponse({"detail": FIRST}, status=403)
        answer: HttpResponseBase | None = super().process_view(request, view, args, kwargs)
        if answer is not None or not request.user.is_authenticated or not getattr(view, "login_required", True):
            return answer
        name = request.resolver_match.url_name if request.resolver_match else ""
        if request.user.password_given_at is not None and name not in OPEN_TO_GIVEN_PASSWORDS | ASKED_BY_EVERY_PAGE:
            return self._first(view, "password")
        if name not in OPEN_WITHOUT_SECOND | ASKED_BY_EVERY_PAGE and must_add_one(request.user, clock.now()):
            return self._first(view, "your_sign_in")
        if request.method == "POST" and (form := kept.waiting(request)) and form.path == request.get_full_path():
            kept.drop(request)
        return None

    @staticmethod
    def _first(view: Any, page: str) -> HttpResponse:
        """A person is led to what has to be done first; a page that asks by itself is told."""
        if is_poll(view):
            return JsonResponse({"detail": _("Something is to be done first, on a page of your own.")}, status=403)
        return redirect(page)

    def handle_no_permission(self, request: HttpRequest, view: Any) -> HttpResponse:  # type: ignore[override]  # a poll is answered, not only redirected
        """A page that asks by itself is told; a person is led to the sign-in page and comes back afterwards."""
        if is_poll(view) or "application/json" in request.headers.get("Accept", ""):
            return JsonResponse({"signed_in": False, "detail": _("You are not signed in.")}, status=401)
        return to_sign_in(request)


def asked_next(request: HttpRequest) -> str:
    """The page that the address names as the next, where it is one on this server; else nothing."""
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if safe else ""


def next_of(request: HttpRequest) -> str:
    """Where they were going, where that is a page on this server."""
    wanted = asked_next(request)
    return wanted if wanted not in ("/", request.path) else ""


def way_back(request: HttpRequest, staff: Staff, wanted: str) -> str:
    """Where they were going, for whoever's session ended here; somebody else goes to no page that another was on. Asked
    before their session begins. Where nobody's ended, or a colleague passed the device on, it is followed."""
    return wanted if request.session.get(OWNER, str(staff.pk)) == str(staff.pk) else ""


def passed_on(request: HttpRequest) -> None:
    """Whoever was here gives the device to a colleague, who goes on where they were."""
    request.session.pop(OWNER, None)


def with_next(address: str, page: str) -> str:
    """An address that leads on to a page afterwards."""
    return f"{address}?{urlencode({'next': page})}" if page else address


def door_of(request: HttpRequest) -> str:
    """The door of this device: the names on an enrolled tablet, the sign-in page anywhere else."""
    return reverse("tablet" if tablet.tablet_of(request) is not None else "sign_in")


def to_sign_in(request: HttpRequest) -> HttpResponse:
    """The way to the sign-in page and back. What was posted is kept for whoever's session it was."""
    page = request.get_full_path()
    if request.method == "POST":
        kept.keep(request, request.session.get(OWNER) or str(request.get_signed_cookie(LAST, default="")))
        page = kept.page_of(request)
    elif request.method not in ("GET", "HEAD"):
        page = kept.page_of(request)
    address = with_next(door_of(request), page)
    if request.headers.get("HX-Request") == "true":
        return HttpResponse(status=401, headers={"HX-Redirect": address})
    return HttpResponseRedirect(address)
