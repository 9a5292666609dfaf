"""Reading a JSON document with the place of every fault: `skills[3].proven.support`."""

import math
from collections.abc import Iterable
from typing import Any, NoReturn

from .errors import ProtocolRefused


class Spot:
    """A value in a document together with its place.

    Every reader refuses with the place, or returns the plain value.
    """

    __slots__ = ("place", "value")

    def __init__(self, value: Any, place: str = "") -> None:
        self.value = value
        self.place = place

    def refuse(self, reason: str) -> NoReturn:
        """Refuse the document because of this value."""
        raise ProtocolRefused(self.place or "document", reason)

    def at(self, name: str) -> "Spot":
        """The member of an object; the caller has made sure of it."""
        return Spot(self.value[name], f"{self.place}.{name}" if self.place else name)

    def fields(self, required: Iterable[str], optional: Iterable[str] = ()) -> dict[str, "Spot"]:
        """The members of an object with exactly these names."""
        if not isinstance(self.value, dict):
            self.refuse("must be an object")
        required = tuple(required)
        known = {*required, *optional}
        for name in self.value:
            if name not in known:
                Spot(None, f"{self.place}.{name}" if self.place else str(name)).refuse("unknown field")
        for name in required:
            if name not in self.value:
                Spot(None, f"{self.place}.{name}" if self.place else name).refuse("missing")
        return {name: self.at(name) for name in self.value}

    def items(self) -> list["Spot"]:
        """The members of a list."""
        if not isinstance(self.value, list):
            self.refuse("must be a list")
        return [Spot(value, f"{self.place}[{index}]") for index, value in enumerate(self.value)]

    def text(self) -> str:
        """A text (one that can be written as UTF-8)."""
        if not isinstance(self.value, str):
            self.refuse("must be a text")
        if not self.value.isascii():
            try:
                self.value.encode()
            except UnicodeEncodeError:
                self.refuse("holds half of a character (a lone surrogate)")
        return self.value

    def flag(self) -> bool:
        """True or false."""
        if not isinstance(self.value, bool):
            self.refuse("must be true or false")
        return self.value

    def number(self) -> float:
        """A finite number."""
        if isinstance(self.value, bool) or not isinstance(self.value, int | float):
            self.refuse("must be a number")
        try:
            finite = math.isfinite(self.value)
        except OverflowError:  # a whole number beyond every double: RFC 8785 has no form for it
            finite = False
        if not finite:
            self.refuse("must be finite")
        return self.value

    def integer(self, least: int) -> int:
        """A number without fraction, however written, of at least `least`."""
        value = self.number()
        if value != int(value):
            self.refuse("must be a whole number")
        if value < least:
            self.refuse(f"must be at least {least}")
        return int(value)

    def choice(self, known: Iterable[str], what: str) -> str:
        """One of the known words."""
        value = self.text()
        if value not in known:
            self.refuse(f"unknown {what} {value!r}")
        return value

    def words(self, known: Iterable[str] | None = None, what: str = "", *, once: bool = False) -> tuple[str, ...]:
        """A list of texts, each of them known where a list is given; a repetition is refused or has no effect."""
        found: dict[str, None] = {}
        for item in self.items():
            word = item.text() if known is None else item.choice(known, what)
            if once and word in found:
                item.refuse(f"{word!r} stands here twice")
            found[word] = None
        return tuple(found)

    def ranges(self, known: Iterable[str]) -> dict[str, tuple[float | None, float | None]]:
        """{measure: [low, high]}, closed, either or both null."""
        if not isinstance(self.value, dict):
            self.refuse("must be an object")
        return {name: self.at(name)._range(name, known) for name in self.value}

    def _range(self, name: str, known: Iterable[str]) -> tuple[float | None, float | None]:
        if name not in known:
            self.refuse(f"unknown measure {name!r}")
        ends = self.items()
        if len(ends) != 2:
            self.refuse("must be [low, high]")
        low, high = (None if end.value is None else end.number() for end in ends)
        if low is not None and high is not None and low > high:
            self.refuse("low is above high")
        return low, high
