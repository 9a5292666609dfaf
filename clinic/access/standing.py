"""As whom the database is asked: nobody, a member of staff at an instant, or the programme itself.

PostgreSQL holds rows back by this alone (clinic/access/fence.py), whatever filter a query has or lacks. Whoever opens a
door says it: the middleware of the pages, the API's endpoints, the worker's tasks, the commands of whoever keeps the
server. A process that says nothing stands as nobody and sees no row about a person.

What is said here is said for the work in hand (a thread, a task); the database's connection is told of it before the
next statement (clinic/access/database/base.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar, Token
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, TypeVar

from django.db import connection

from clinic import clock

if TYPE_CHECKING:
    from clinic.staff.models import Staff

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Standing:
    """Who asks (the id of a member of staff, or one of the two words below), and as of which instant."""

    who: str
    at: datetime | None = None


NOBODY = Standing("")
EVERYBODY = Standing("everybody")  # the programme itself: the worker's tasks and the commands on the server
_standing: ContextVar[Standing | None] = ContextVar("standing", default=None)
_process = NOBODY


def present() -> Standing:
    """As whom the work in hand asks."""
    return _standing.get() or _process


def process_stands_as(standing: Standing) -> None:
    """What holds in this process wherever nothing else is said: for the start of one, and nowhere else."""
    global _process
    _process = standing


def stand(who: Staff | Standing, at: datetime | None = None) -> Token[Standing | None]:
    """Stand as somebody from now on; give the token to `leave` afterwards.

    For a member of staff the database is told at once, and answers with the roles that they hold on that day: the same
    question that the fence in code asks next, which is thus not asked again.
    """
    if isinstance(who, Standing):
        return _standing.set(who)
    at = at or clock.now()
    token = _standing.set(Standing(str(who.pk), at))
    try:
        connection.ensure_connection()
    except BaseException:
        leave(token)
        raise
    roles: str | None = getattr(connection, "roles", None)
    if roles is not None:
        who.remember_roles(at.date(), roles.split())
    return token


def leave(token: Token[Standing | None]) -> None:
    """Stand again as before `stand`."""
    _standing.reset(token)


@contextmanager
def standing_as(who: Staff | Standing, at: datetime | None = None) -> Iterator[None]:
    """Stand as somebody inside the block."""
    token = stand(who, at)
    try:
        yield
    finally:
        leave(token)


@contextmanager
def beyond(why: str) -> Iterator[None]:
    """Look beyond the reach of whoever is in hand, for one question whose answer does not show them what is not theirs.

    `why` says what for. tests/fences/test_doors.py names every place that does so.
    """
    if not why:
        raise ValueError("say why the fence is stepped over")
    with standing_as(EVERYBODY):
        yield


def throughout(pieces: Iterator[T], standing: Standing) -> Iterator[T]:
    """Make each piece of an answer under a standing that has been left meanwhile: one that is sent while it is read."""
    while True:
        with standing_as(standing):
            try:
                piece = next(pieces)
            except StopIteration:
                return
        yield piece
