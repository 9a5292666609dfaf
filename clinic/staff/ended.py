"""What has run out at the door goes: ended sessions with the forms kept there, expired tokens, old wrong passwords."""

from __future__ import annotations

from datetime import datetime

from django.contrib.sessions.models import Session
from knox.models import AuthToken

from clinic.staff import sessions
from clinic.staff.attempts import WINDOW
from clinic.staff.models import SignInAttempt


def forget_ended(at: datetime) -> int:
    """Delete what has run out by an instant; returns how many rows went. As often as anybody likes."""
    sessions.close_over(at)
    gone = (
        sessions.forget(at),
        Session.objects.filter(expire_date__lt=at).delete()[0],
        AuthToken.objects.filter(expiry__lt=at).delete()[0],
        SignInAttempt.objects.filter(at__lt=at - WINDOW).delete()[0],
    )
    return sum(gone)
