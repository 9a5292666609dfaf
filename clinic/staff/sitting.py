"""One continuous sitting at a signed-in browser: whether all components of a signature were shown in it already.

21 CFR 11.200(a)(1): the first signing takes all of them, later ones in the same sitting at least one that only the
signer has; where there is no sitting (a token, a command, a colleague at somebody else's screen) all of them each time.
The middleware of the pages says which sitting a request belongs to; it ends with the session's key, whatever ends that.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from clinic.staff.models import Staff


class Sitting(Protocol):
    """What is remembered from one signing to the next."""

    def all_shown(self, staff: Staff) -> bool:
        """Whether this person has shown all components in this sitting."""

    def note_all_shown(self, staff: Staff) -> None:
        """They have now."""


class InMemory:
    """A sitting that no browser keeps: for whoever drives the services from a programme, such as the demo's year."""

    def __init__(self) -> None:
        self._who: object = None

    def all_shown(self, staff: Staff) -> bool:
        """Whether this person has shown all components in this sitting."""
        return self._who == staff.pk

    def note_all_shown(self, staff: Staff) -> None:
        """They have now."""
        self._who = staff.pk


_present: ContextVar[Sitting | None] = ContextVar("sitting", default=None)


def present() -> Sitting | None:
    """The sitting of the work in hand, where there is one."""
    return _present.get()


@contextmanager
def sitting(at: Sitting | None) -> Iterator[None]:
    """The work of this block belongs to a sitting, or to none."""
    token = _present.set(at)
    try:
        yield
    finally:
        _present.reset(token)
