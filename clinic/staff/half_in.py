"""Between the two steps of the sign-in: the browser's session knows who gave the right password, for five minutes."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.http import HttpRequest

from clinic import clock
from clinic.staff.models import Staff

KEY = "half_in"
HELD_FOR = timedelta(minutes=5)


def keep(request: HttpRequest, staff: Staff, next_page: str) -> None:
    """The first step was taken. The session gets a new key, as at every step up."""
    request.session.cycle_key()
    request.session[KEY] = [str(staff.pk), staff.get_session_auth_hash(), clock.now().isoformat(), next_page]


def who(request: HttpRequest) -> Staff | None:
    """Who took the first step, while it counts: not too long ago, and with a password that is still theirs."""
    kept = request.session.get(KEY)
    if not kept or clock.now() - datetime.fromisoformat(kept[2]) > HELD_FOR:
        return None
    staff = Staff.objects.select_related("site").filter(pk=kept[0], is_active=True).first()
    return staff if staff is not None and staff.get_session_auth_hash() == kept[1] else None


def next_page(request: HttpRequest) -> str:
    """Where they were going."""
    kept = request.session.get(KEY)
    return str(kept[3]) if kept else ""


def drop(request: HttpRequest) -> None:
    """They are in, or begin anew."""
    request.session.pop(KEY, None)
