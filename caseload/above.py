"""What only the record knows, which stands above this app: a place where it registers who can be asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Generic, ParamSpec, TypeVar

P = ParamSpec("P")
R = TypeVar("R")


class Above(Generic[P, R]):
    """Asked like a function; whoever registered answers."""

    def __init__(self, what: str) -> None:
        self._what = what
        self._knows: Callable[P, R] | None = None

    def register(self, knows: Callable[P, R]) -> None:
        """Let it be asked. A second one, not the same again: ValueError."""
        if self._knows not in (None, knows):
            raise ValueError(f"Somebody else knows of {self._what} already.")
        self._knows = knows

    def __call__(self, *args: P.args, **kwargs: P.kwargs) -> R:
        """The answer. LookupError where nobody has registered yet."""
        if self._knows is None:
            raise LookupError(f"Nobody knows of {self._what} yet.")
        return self._knows(*args, **kwargs)
