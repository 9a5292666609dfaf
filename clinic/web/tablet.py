"""Which enrolled tablet a request comes from: a long random secret in a cookie that no script can read."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from clinic.staff.session_models import Tablet
from clinic.staff.tablet import secret

NAME = f"{settings.COOKIE_PREFIX}gym_tablet"
KEPT_FOR = timedelta(days=365)
_FOUND = "_gym_tablet"


def tablet_of(request: HttpRequest) -> Tablet | None:
    """The enrolled tablet that asks; nothing on any other device. Asked for once a request."""
    if not hasattr(request, _FOUND):
        setattr(request, _FOUND, _look_up(request))
    found: Tablet | None = getattr(request, _FOUND)
    return found


def is_revoked(request: HttpRequest) -> bool:
    """Whether the device says that it is a tablet which a lead has revoked. Its secret is forgotten by then: this tells
    the device what it is to do with what it keeps, and opens nothing."""
    sent = secret.read(request.COOKIES.get(NAME, ""))
    return sent is not None and Tablet.objects.filter(pk=sent[0], revoked_at__isnull=False).exists()


def holds(request: HttpRequest, tablet: Tablet) -> bool:
    """Whether the request comes from this very tablet, without a further query."""
    sent = secret.read(request.COOKIES.get(NAME, ""))
    return sent is not None and sent[0] == tablet.pk and secret.fits(tablet, sent[1])


def give(response: HttpResponse, tablet: Tablet, drawn: str) -> None:
    """Let the device keep its secret."""
    response.set_cookie(
        NAME,
        secret.held(tablet, drawn),
        max_age=int(KEPT_FOR.total_seconds()),
        httponly=True,
        samesite="Lax",
        secure=settings.SESSION_COOKIE_SECURE,
    )


def forget(response: HttpResponse) -> None:
    """The device is no tablet of the gym's any more."""
    response.delete_cookie(NAME, samesite="Lax")


def _look_up(request: HttpRequest) -> Tablet | None:
    sent = secret.read(request.COOKIES.get(NAME, ""))
    if sent is None:
        return None
    tablet = Tablet.objects.select_related("site").filter(pk=sent[0], revoked_at__isnull=True).first()
    return tablet if tablet is not None and secret.fits(tablet, sent[1]) else None
