"""Changing a JSON value, or bytes, so that most of it stays as it was."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from random import Random
from typing import Any

TEXTS = (
    *("", " ", "\0", "a\0b", "\n", "\r\n", "\u2028", "\ud800", "\udfff\ud800", "\ufeff", "\u202eabc", "é" * 3, "é"),
    *("😀", "ﬁ", "İ", "ß", "٣", "²", "x" * 61, "x" * 4_001, "x" * 70_000, "null", "NaN", "true", "0", "-0", "1e400"),
    *("../../etc/passwd", "'; DROP TABLE x; --", "<script>", "{{ 7*7 }}", "{% x %}", "%s%n", "${x}", "__proto__"),
    *("attempt", "left", "both", "none", "2026-02-29T00:00:00Z", "2026-11-25T09:00:00Z", "2026-11-25T24:00:00Z"),
    *("2026-11-25T09:00:60Z", "0000-01-01T00:00:00Z", "0001-01-01T00:00:00+23:59", "9999-12-31T23:59:59-23:59"),
    *("2026-11-25t09:00:00z", "2026-11-25T09:00:00.123456789Z", "2026-11-25T09:00:00+24:00", "2026-11-25", "20261125"),
    *("2026-11-25T09:00:00", "00000000-0000-4000-8000-000000000001", "00000000-0000-0000-0000-000000000000"),
)
NUMBERS = (
    *(0, 1, -1, 2, 255, 256, 2**31, 2**53 - 1, 2**53, 2**63 - 1, 2**63, 2**64, -(2**63) - 1, 10**30, 10**400),
    *(0.5, -0.0, 1e-320, 1e308, float("inf"), float("-inf"), float("nan"), 1.0, 100.0, 1e15, 1e16 + 1),
)
PLAIN: tuple[Any, ...] = (None, True, False, [], {}, [[]], [None], {"": None}, *NUMBERS, *TEXTS)
DEEP = 60


def nested(depth: int, rng: Random) -> Any:
    """A value inside a value inside a value."""
    value: Any = None
    for _ in range(depth):
        value = [value] if rng.random() < 0.5 else {rng.choice(("not", "all", "any", "entry", "a")): value}
    return value


def _own(value: Any) -> Any:
    """A copy, so that no change reaches the example that it came from."""
    return json.loads(json.dumps(value)) if isinstance(value, dict | list) else value


def places(value: Any, limit: int = 400) -> list[tuple[Any, Any]]:
    """Every place of a value as (holder, key), the first `limit` of them."""
    found: list[tuple[Any, Any]] = []
    waiting = [value]
    while waiting and len(found) < limit:
        holder = waiting.pop()
        keys = list(holder) if isinstance(holder, dict) else range(len(holder)) if isinstance(holder, list) else ()
        for key in keys:
            found.append((holder, key))
            waiting.append(holder[key])
    return found


class Mutator:
    """Changes values; what stood under the same name elsewhere in the corpus is put there more often than nonsense."""

    def __init__(self, corpus: Sequence[Any]) -> None:
        self._known: dict[str, list[Any]] = {}
        for example in corpus:
            for holder, key in places(example):
                if isinstance(holder, dict):
                    known = self._known.setdefault(key, [])
                    if len(known) < 200:
                        known.append(holder[key])
        self._names = sorted(self._known) or ["a"]
        self._ways: tuple[Callable[[Any, Any, Random], None], ...] = (
            *(self._put, self._put, self._put, self._swap, self._rename, self._remove, self._add, self._double),
            *(self._text, self._text, self._retype),
        )

    def changed(self, value: Any, rng: Random) -> Any:
        """A copy of the value with one change or a few; now and then none, or something else altogether."""
        chance = rng.random()
        if chance < 0.04:
            return value
        if chance < 0.06:
            return self.something(rng)
        copy = json.loads(json.dumps(value))
        for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
            found = places(copy)
            if not found:
                return self.something(rng)
            holder, key = rng.choice(found)
            try:
                rng.choice(self._ways)(holder, key, rng)
            except (KeyError, IndexError):  # an earlier change took this place away
                continue
        return copy

    def gently(self, value: Any, rng: Random) -> Any:
        """A copy in which one plain value is another that stood under the same name: often still right."""
        copy = json.loads(json.dumps(value))
        found = [(holder, key) for holder, key in places(copy) if isinstance(holder[key], str | int | float)]
        if found:
            holder, key = rng.choice(found)
            holder[key] = rng.choice(self._known.get(key) or [holder[key]]) if isinstance(key, str) else holder[key]
        return copy

    def something(self, rng: Random, name: str = "") -> Any:
        """A value of its own: known under this name, known under another, plain nonsense, or deep."""
        chance = rng.random()
        if name in self._known and chance < 0.4:
            return _own(rng.choice(self._known[name]))
        if chance < 0.6:
            return _own(rng.choice(self._known.get(rng.choice(self._names)) or PLAIN))
        return nested(rng.choice((5, DEEP)), rng) if chance < 0.63 else _own(rng.choice(PLAIN))

    def _put(self, holder: Any, key: Any, rng: Random) -> None:
        holder[key] = self.something(rng, key if isinstance(key, str) else "")

    def _swap(self, holder: Any, key: Any, rng: Random) -> None:
        other = rng.choice(list(holder) if isinstance(holder, dict) else range(len(holder)))
        holder[key], holder[other] = holder[other], holder[key]

    def _rename(self, holder: Any, key: Any, rng: Random) -> None:
        if isinstance(holder, dict):
            holder[rng.choice((*self._names, *TEXTS[:12]))] = holder.pop(key)
        else:
            rng.shuffle(holder)

    def _remove(self, holder: Any, key: Any, rng: Random) -> None:
        del holder[key]

    def _add(self, holder: Any, key: Any, rng: Random) -> None:
        name = rng.choice(self._names)
        if isinstance(holder, dict):
            holder[name] = self.something(rng, name)
        else:
            holder.insert(key, self.something(rng))

    def _double(self, holder: Any, key: Any, rng: Random) -> None:
        if isinstance(holder, list):
            holder.extend([holder[key]] * rng.choice((1, 1, 3, 50)))
        else:
            holder[key] = [holder[key]]

    def _text(self, holder: Any, key: Any, rng: Random) -> None:
        text = holder[key]
        if not isinstance(text, str):
            self._put(holder, key, rng)
            return
        at = rng.randrange(len(text) + 1)
        piece = rng.choice((*TEXTS[:24], text, text[:at]))
        holder[key] = rng.choice((text[:at], text[:at] + piece + text[at:], text.upper(), text[::-1], f" {text} "))

    def _retype(self, holder: Any, key: Any, rng: Random) -> None:
        value = holder[key]
        if isinstance(value, bool) or value is None:
            holder[key] = str(value).lower()
        elif isinstance(value, int | float):
            holder[key] = rng.choice((str(value), float(value) if abs(value) < 1e300 else value, -value, [value]))
        elif isinstance(value, str):
            holder[key] = len(value)
        else:
            holder[key] = json.dumps(value)


def spoiled(body: bytes, rng: Random) -> bytes:
    """Bytes with something cut, doubled, flipped or put in."""
    for _ in range(rng.choice((1, 1, 2, 5))):
        at, to = sorted((rng.randrange(len(body) + 1), rng.randrange(len(body) + 1)))
        body = rng.choice(
            (
                body[:at],
                body[:at] + body[to:],
                body[:to] + body[at:],
                body[:at] + bytes((rng.randrange(256),)) + body[at:],
                body[:at]
                + rng.choice((b'"', b"{", b"}", b"[", b",", b":", b"\\u", b"\\ud800", b"\xff", b"\xc3", b"\0"))
                + body[at:],
                b"\xef\xbb\xbf" + body,
                body[:at] + b"[" * 200 + body[at:],
                body[:at] + b"1" * 400 + body[at:],
            )
        )[:200_000]
    return body


def as_query(value: Any) -> Mapping[str, list[str]]:
    """A value as the fields of a form or query: texts, some of them several times."""
    if not isinstance(value, dict):
        return {"a": [str(value)]}
    return {
        str(key): [str(one) for one in each] if isinstance(each, list) else [str(each)] for key, each in value.items()
    }
