"""What goes into a log: when, how bad, which part, where in the code. Never what somebody typed, and no secret.

The text of an exception may hold anything: the row that violated a constraint, the address that a mail server
refused, a password. So it is left out, of every exception and of all that led to it; what stays is its type, what a
database says by code and constraint, and the lines of code, which are the same for everybody. Whoever needs more
repeats the request on a machine without people.
"""

from __future__ import annotations

import logging
import re
import time
import traceback
from collections.abc import Mapping
from types import TracebackType
from typing import Any

WITHHELD = "…"
_UNSEEN = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
_NAMED = r"\b([\w-]*(?:passw(?:or)?d|secret|token|sessionid|cookie)[\w-]*)(['\"]?\s*[=:]\s*)(['\"]?)[^\s'\",;&]+"
_SECRETS = (
    (re.compile(r"(://[^:/@\s]*:)[^@/\s]+@"), rf"\1{WITHHELD}@"),  # a password in an address
    (re.compile(r"\b(Token|Bearer|Basic)\s+[A-Za-z0-9+/=._-]{8,}", re.IGNORECASE), rf"\1 {WITHHELD}"),
    (re.compile(_NAMED, re.IGNORECASE), rf"\1\2\3{WITHHELD}"),
)
_FROM_DATABASE = ("sqlstate", "constraint_name", "table_name", "column_name")


def described(fault: BaseException) -> str:
    """An exception by its type, and by what a database, a mail server or the machine says of it in codes and names."""
    diag = getattr(fault.__cause__, "diag", None) or getattr(fault, "diag", None)
    said = [str(value) for name in _FROM_DATABASE if (value := getattr(diag, name, None))]
    said += [
        f"{name} {value}" for name in ("smtp_code", "errno") if isinstance(value := getattr(fault, name, None), int)
    ]
    listed = f" ({', '.join(said)})" if said else ""
    return f"{type(fault).__name__}{listed}"


def told(fault: BaseException | None, lines: TracebackType | None = None) -> str:
    """The way to an exception in lines of code, and to all that it came from, without a word of theirs."""
    parts: list[str] = []
    seen: set[int] = set()
    while fault is not None and id(fault) not in seen:
        seen.add(id(fault))
        way = traceback.extract_tb(lines or fault.__traceback__)
        parts.insert(0, "".join([*traceback.format_list(way), described(fault)]))
        lines, fault = None, fault.__cause__ or (None if fault.__suppress_context__ else fault.__context__)
    return "\n\nled to\n\n".join(parts)


def discreet(text: str) -> str:
    """One line without secrets that have a known shape, and with nothing in it that a terminal obeys."""
    for pattern, instead in _SECRETS:
        text = pattern.sub(instead, text)
    return _UNSEEN.sub(lambda found: f"\\x{ord(found[0]):02x}", text)


class Discreet(logging.Formatter):
    """One line an event, with the instant in UTC; below it, for an exception, the lines of code that led to it."""

    converter = staticmethod(time.gmtime)
    default_time_format = "%Y-%m-%dT%H:%M:%S"
    default_msec_format = "%s.%03dZ"

    def __init__(self) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s: %(message)s")

    def format(self, record: logging.LogRecord) -> str:
        """The record as text. The record itself is left as it is."""
        said = logging.makeLogRecord(record.__dict__)
        said.args = _without_faults(record.args)
        said.exc_text = said.stack_info = None
        fault, said.exc_info = (record.exc_info or (None, None, None))[:], None
        said.msg, said.args = discreet(_message(said)), None
        line = super().format(said)
        return f"{line}\n{told(fault[1], fault[2])}" if fault[1] is not None else line


def _message(record: logging.LogRecord) -> str:
    try:
        return record.getMessage()
    except (TypeError, ValueError, KeyError):  # whatever was to be said, a log must not break what it tells of
        return str(record.msg)


def _without_faults(args: Any) -> Any:
    """What fills a message, with each exception by its type; Celery gives its text, arguments and traceback by name."""
    if isinstance(args, Mapping):
        by_name = {"exc", "args", "kwargs", "traceback"}
        return {key: WITHHELD if key in by_name else _without_fault(value) for key, value in args.items()}
    if isinstance(args, tuple):
        return tuple(_without_fault(value) for value in args)
    return args


def _without_fault(value: object) -> object:
    return described(value) if isinstance(value, BaseException) else value
