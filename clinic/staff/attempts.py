"""Counting wrong passwords, so that nobody can guess on and on.

Kept in the database and not in a cache: it holds across processes and restarts, and does not fail open or shut with the
broker. An attempt is written down before the password is looked at, under a lock per name, so that a hundred guesses at
once count as a hundred. Limits are per name and address, so that a prankster elsewhere locks nobody out; two wider
limits stop guessing from many places and over many names. Numbers: common practice, no source.
"""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta

from django.db import connection, transaction
from django.db.models import Q

from clinic.errors import Refusal
from clinic.staff.models import SignInAttempt

WINDOW = timedelta(minutes=15)
FROM_HERE, FROM_ANYWHERE, ANY_NAME = 5, 25, 100


class LockedOut(Refusal):
    """Too many wrong passwords, or codes."""

    code = "locked_out"
    status = 429


def key_of(username: str) -> str:
    """The name as it is stored: a digest, because people type passwords into the wrong box."""
    return hashlib.sha256(username.strip().casefold().encode()).hexdigest()


def begin(username: str, address: str, *, at: datetime) -> SignInAttempt | datetime:
    """Write an attempt down, or return the instant until which there may be none. Must not stand in a transaction."""
    key = key_of(username)
    with transaction.atomic(durable=True):
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(hashtextextended(%s, 0))", [key])
        until = _locked_until(key, address, at)
        if until is not None:
            return until
        SignInAttempt.objects.filter(at__lt=at - 4 * WINDOW).delete()
        return SignInAttempt.objects.create(key=key, address=address, at=at)


def succeeded(attempt: SignInAttempt) -> None:
    """The password was right: this name starts afresh from this address."""
    SignInAttempt.objects.filter(key=attempt.key, address=attempt.address).delete()


def note(name: str, address: str, *, at: datetime) -> int:
    """Count something done in vain that is looked at and not locked; returns how many there were in the window."""
    key = key_of(name)
    SignInAttempt.objects.create(key=key, address=address, at=at)
    return SignInAttempt.objects.filter(key=key, at__gt=at - WINDOW).count()


def forget(username: str) -> None:
    """A lead has given a new password: the old guesses no longer count."""
    SignInAttempt.objects.filter(key=key_of(username)).delete()


def _locked_until(key: str, address: str, at: datetime) -> datetime | None:
    """When the limit that is reached opens again: when the oldest attempt that fills it leaves the window."""
    limits = (
        (FROM_HERE, Q(key=key, address=address)),
        (FROM_ANYWHERE, Q(key=key)),
        (ANY_NAME, Q(address=address)),
    )
    in_window = SignInAttempt.objects.filter(at__gt=at - WINDOW).order_by("-at").values_list("at", flat=True)
    first, *others = (in_window.filter(which)[most - 1 : most] for most, which in limits)
    found = list(first.union(*others, all=True))  # asked at once: this stands before every password and every code
    return max(found) + WINDOW if found else None
