"""How whoever is in hand has shown who they are, and what that is good for.

A PIN on the gym's tablet opens recording and nothing else (PIN_ACTIONS), whatever the roles. The doors say how somebody
came in: the middleware of the pages from the session, the API from the token, each for one request. Commands and the
worker act for the programme itself, which stands as high as can be.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar, Token
from enum import IntEnum

from django.utils.translation import gettext_lazy

from clinic.access.policy import Action
from clinic.errors import Denied

__all__ = ["PIN_ACTIONS", "Assurance", "NeedsMore", "acting", "allows", "come_in", "left", "need", "shown"]


class Assurance(IntEnum):
    """How somebody has shown who they are. Each takes in what the ones before it are good for."""

    PIN = 1
    PASSWORD = 2
    TWO_FACTORS = 3


# What recording in the gym needs. What is not here is refused under a PIN, also to whoever joins the table later.
PIN_ACTIONS = frozenset(
    {Action.SEE_PERSON, Action.SEE_ALERTS, Action.SEE_PROTOCOL, Action.RECORD, Action.RECORD_KNEE},
)
_shown: ContextVar[Assurance] = ContextVar("assurance", default=Assurance.TWO_FACTORS)


class NeedsMore(Denied):
    """It may be theirs to do, but not with what they have shown in this session."""

    code = "needs_more"


_SENTENCES = {
    Assurance.PASSWORD: gettext_lazy("A PIN is for recording only. Sign in with your name and password to do this."),
    Assurance.TWO_FACTORS: gettext_lazy("This needs your second factor. Sign in again with both."),
}


def shown() -> Assurance:
    """How whoever is in hand has shown who they are."""
    return _shown.get()


def come_in(assurance: Assurance) -> Token[Assurance]:
    """From here on this is how they have shown it; the token is for `left`, which puts back what was before."""
    return _shown.set(assurance)


def left(token: Token[Assurance]) -> None:
    """The request is over."""
    _shown.reset(token)


@contextmanager
def acting(assurance: Assurance) -> Iterator[None]:
    """For the length of a block."""
    token = come_in(assurance)
    try:
        yield
    finally:
        left(token)


def allows(action: Action) -> bool:
    """Whether an action is open to whoever has shown no more than this."""
    return _shown.get() > Assurance.PIN or action in PIN_ACTIONS


def need(least: Assurance) -> None:
    """Refuse, with a sentence, what takes more than was shown: what is no row of POLICY, such as one's own account."""
    if _shown.get() < least:
        raise NeedsMore(_SENTENCES[least])
