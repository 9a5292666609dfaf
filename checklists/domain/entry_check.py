"""Checking one entry by itself, field by field, with a sentence for the first fault (SEMANTICS.md §1, 'Refused')."""

import math
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from . import instant
from .errors import EntryRefused
from .kinds import FIELDS, Field

if TYPE_CHECKING:
    from .protocol import Protocol

UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
LONGEST_TEXT = 4_000
_LONGEST_NAME = 200  # of an unknown field, in the refusal
TOO_LARGE = 2**53
EARLY = 5 * 60 * instant.SECOND  # how far the clock of a sender may be ahead of the server's


@dataclass(frozen=True, slots=True)
class Reception:
    """The server is receiving the entry: what only it refuses, never a replay. `now` is in microseconds."""

    now: int
    both: bool  # the person has two prostheses
    signing: bool  # it comes from the signing service or an import


def check_entry(obj: Any, protocol: "Protocol", reception: Reception | None) -> None:
    """Raise EntryRefused for the first fault found; return when the entry is sound by itself."""
    if not isinstance(obj, dict):
        raise EntryRefused("entry", "must be an object")
    kind = obj.get("kind")
    if "kind" not in obj:
        raise EntryRefused("kind", "missing")
    if not isinstance(kind, str) or kind not in FIELDS:
        raise EntryRefused("kind", _unknown("kind", kind))
    fields = FIELDS[kind]
    for name in obj:
        if name not in fields:
            raise EntryRefused(name[:_LONGEST_NAME], f"unknown field of {kind}")
    for name, field in fields.items():
        if name in obj:
            _check_field(field, obj, protocol, reception)
        elif field.required:
            raise EntryRefused(name, "missing")
    _check_together(kind, obj)
    if reception is not None:
        _check_received(kind, obj, protocol, reception)


def _check_field(field: Field, obj: dict[str, Any], protocol: "Protocol", reception: Reception | None) -> None:
    value = obj[field.name]
    if value is None:
        raise EntryRefused(field.name, "null; leave it out")
    fault = _CHECKS[field.type](value, field, obj, protocol, reception is not None)
    if fault:
        raise EntryRefused(field.name, fault)


def _check_together(kind: str, obj: dict[str, Any]) -> None:
    """What depends on two fields of the entry."""
    if kind == "setting_changed":
        if obj["setting"] == "knee" and "features" not in obj:
            raise EntryRefused("features", "missing; say what the new knee can do")
        if obj["setting"] != "knee" and "features" in obj:
            raise EntryRefused("features", "only a change of knee names them")
    elif kind == "review":
        if obj.get("of") and "outcome" not in obj:
            raise EntryRefused("outcome", "missing; say whether the falls are cleared")
        if not obj.get("of") and "outcome" in obj:
            raise EntryRefused("outcome", "not without falls in `of`")
    elif kind == "correction_answered":
        _check_answer(obj)


def _check_answer(obj: dict[str, Any]) -> None:
    """An answer says what was done, or why nothing was (SEMANTICS.md §8)."""
    done = [name for name in ("struck", "added") if obj.get(name)]
    if obj["answer"] == "declined" and done:
        raise EntryRefused(done[0], "nothing is struck out or added where it is declined")
    if "reason" not in obj and not done:
        raise EntryRefused("reason", "missing; say why it is declined, or what was done instead of an entry")


def _check_received(kind: str, obj: dict[str, Any], protocol: "Protocol", reception: Reception) -> None:
    """What only the server refuses as it receives an entry."""
    for name in ("at", "began"):
        if name in obj and instant.read(obj[name])[0] > reception.now + EARLY:
            raise EntryRefused(name, "more than five minutes in the future")
    for name, value in obj.items():
        for fault in _unfit(value):
            raise EntryRefused(name, fault)
    if kind in ("sign_off", "sign_off_withdrawn") and not reception.signing:
        raise EntryRefused("kind", f"a {kind} comes from the signing service or an import only")
    asks = kind in ("mode_set", "mode_checked") or (kind == "setting_changed" and obj["setting"] == "knee")
    if reception.both and "knee" not in obj and (asks or (kind == "check" and protocol.checks[obj["name"]].per_knee)):
        raise EntryRefused("knee", "missing; this person has two, say which")


def _unfit(value: Any) -> Iterator[str]:
    """What no text or number may be, wherever it stands in the entry."""
    if isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            yield f"a text of more than {LONGEST_TEXT:,} characters"
        if "\0" in value:
            yield "a text with the character U+0000"
        if not value.isascii() and any("\ud800" <= one <= "\udfff" for one in value):
            yield "a text with half of a character (a lone surrogate)"
    elif isinstance(value, int | float) and abs(value) >= TOO_LARGE:
        yield "a number of 2^53 or more"
    elif isinstance(value, Mapping):
        for name, inner in value.items():
            yield from _unfit(name)
            yield from _unfit(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _unfit(inner)


def _unknown(what: str, value: Any) -> str:
    return f"unknown {what} {value[:60]!r}" if isinstance(value, str) else "must be a text"


def is_number(value: Any) -> bool:
    """A finite JSON number (true and false are none)."""
    if isinstance(value, float):
        return math.isfinite(value)
    return isinstance(value, int) and not isinstance(value, bool)


def _text(value: Any, *_: Any) -> str | None:
    return None if isinstance(value, str) else "must be a text"


def _id(value: Any, *_: Any) -> str | None:
    return None if isinstance(value, str) and UUID.fullmatch(value) else "must be a UUID in lower case"


def _ids(value: Any, *_: Any) -> str | None:
    return None if isinstance(value, list) and not any(map(_id, value)) else "must be a list of UUIDs in lower case"


def _instant(value: Any, *_: Any) -> str | None:
    return _readable(instant.read, value)


def _date(value: Any, *_: Any) -> str | None:
    return _readable(instant.read_day, value)


def _readable(read: Callable[[str], object], value: Any) -> str | None:
    if not isinstance(value, str):
        return "must be a text"
    try:
        read(value)
    except ValueError as fault:
        return str(fault)
    return None


def _number(value: Any, *_: Any) -> str | None:
    return None if is_number(value) else "must be a finite number"


def _integer(value: Any, *_: Any) -> str | None:
    return None if is_number(value) and value == int(value) else "must be a whole number"


def _flag(value: Any, *_: Any) -> str | None:
    return None if isinstance(value, bool) else "must be true or false"


def _choice(value: Any, field: Field, *_: Any) -> str | None:
    return None if isinstance(value, str) and value in field.choices else _unknown(field.name, value)


def _choices(value: Any, field: Field, *_: Any) -> str | None:
    if not isinstance(value, list):
        return "must be a list"
    return next((fault for fault in (_choice(one, field) for one in value) if fault), None)


def _skill(value: Any, field: Field, obj: Any, protocol: "Protocol", receiving: bool) -> str | None:
    lost = isinstance(value, str) and not field.required and not receiving  # a fall stays, whatever became of the skill
    return None if lost or (isinstance(value, str) and value in protocol.skills) else _unknown("skill", value)


def _support(value: Any, field: Field, obj: Any, protocol: "Protocol", *_: Any) -> str | None:
    return None if isinstance(value, str) and protocol.words.knows_support(value) else _unknown("support", value)


def _rung(value: Any, field: Field, obj: Any, protocol: "Protocol", *_: Any) -> str | None:
    skill = obj.get("skill")
    rungs = protocol.words.rungs.get(skill, frozenset()) if isinstance(skill, str) else frozenset()
    return None if isinstance(value, str) and value in rungs else _unknown("rung of this skill", value)


def _help(value: Any, field: Field, obj: Any, protocol: "Protocol", *_: Any) -> str | None:
    return None if isinstance(value, str) and value in protocol.help else _unknown("help", value)


def _deviations(value: Any, field: Field, obj: Any, protocol: "Protocol", receiving: bool) -> str | None:
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        return "must be a list of texts"
    lost = [one for one in value if one not in protocol.deviations]
    return _unknown("deviation", lost[0]) if lost and receiving else None


def _measures(value: Any, field: Field, obj: Any, protocol: "Protocol", receiving: bool) -> str | None:
    if not isinstance(value, dict):
        return "must be an object of numbers"
    for name, number in value.items():
        if receiving and name not in protocol.measures:
            return _unknown("measure", name)
        if not is_number(number):
            return f"{name[:60]!r} must be a finite number"
    return None


def _check(value: Any, field: Field, obj: Any, protocol: "Protocol", *_: Any) -> str | None:
    return None if isinstance(value, str) and value in protocol.checks else _unknown("check", value)


def _steps(value: Any, field: Field, obj: Any, protocol: "Protocol", *_: Any) -> str | None:
    if not isinstance(value, dict):
        return "must be an object of steps"
    name = obj.get("name")
    known = protocol.checks[name].steps if isinstance(name, str) and name in protocol.checks else ()
    for step, done in value.items():
        if step not in known:
            return _unknown("step of this check", step)
        if not isinstance(done, bool):
            return f"{step!r} must be true or false"
    return None


def _override(value: Any, *_: Any) -> str | None:
    if not isinstance(value, dict) or value.keys() != {"by", "reason"}:
        return "must be an object of by and reason"
    return None if all(isinstance(one, str) for one in value.values()) else "by and reason must be texts"


_CHECKS: dict[str, Callable[..., str | None]] = {
    "kind": _text, "text": _text, "id": _id, "ids": _ids, "instant": _instant, "date": _date, "number": _number,
    "integer": _integer, "flag": _flag, "choice": _choice, "choices": _choices, "skill": _skill, "support": _support,
    "rung": _rung, "help": _help, "deviations": _deviations, "measures": _measures, "check": _check, "steps": _steps,
    "override": _override,
}  # fmt: skip  # a table, read by row
