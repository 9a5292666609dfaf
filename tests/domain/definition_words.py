"""The closed lists of the contract, written down a second time (checklists/domain/SEMANTICS.md, sections 1 and 2).

Part of the naive reference implementation: slow, obvious, and sharing no code with checklists.domain.
"""

from __future__ import annotations

import math
import re
from datetime import date, datetime
from functools import cache
from typing import Any

# The order of kinds that tie (section 1, 'Order'); the opening stands before everything.
KIND_ORDER = [
    "session_opened",
    "setting_changed",
    "mode_set",
    "check",
    "mode_checked",
    "attempt",
    "fall",
    "near_miss",
    "review",
    "sign_off",
    "sign_off_withdrawn",
    "session_closed",
    "episode_closed",
    "struck_out",
    "correction_requested",
    "correction_answered",
]
# Section 8: they stand beside the record.
BESIDE = ["correction_requested", "correction_answered"]
ROLES = ["clinic_lead", "therapist", "prosthetist", "assistant"]
SIDES = ["left", "right", "both"]
FEATURES = ["lock", "free_swing", "yielding", "resistance"]
MODES = ["walking", "locked", "free_swing"]
RESULTS = ["safe", "unsafe", "stopped"]
RAILS = KNEES = ["left", "right"]
SETTINGS = ["resistance", "alignment", "socket", "foot", "knee", "footwear"]
INJURIES = ["none", "minor", "moderate", "serious"]
OUTCOMES = ["cleared", "not_cleared"]
ANSWERS = ["agreed", "declined"]
STATUSES = ["not_applicable", "suspended", "lapsed", "signed_off", "blocked", "ready", "training", "open"]
SEVERITIES = ["critical", "major", "minor"]
RAILS_OF_TWO = ["both_rails", "one_rail"]

# Section 4, in its order, with the severities of the table.
BUILT_IN = {
    "prerequisite": "major",
    "support_step": "major",
    "fall_review": "critical",
    "fall_unreviewed": "critical",
    "gap": "major",
    "alone": "critical",
    "feature": "critical",
    "unsupported_sign_off": "major",
    "struck_danger": "major",
}

COMMON = {
    "id": "uuid",
    "episode": "text",
    "kind": "kind",
    "at": "instant",
    "seq": "integer",
    "by": "text",
    "role": ROLES,
    "note": "text",
    "clock_offset_s": "number",
}
COMMON_REQUIRED = ["id", "episode", "kind", "at", "by"]

# kind -> field -> what it holds (a list is a closed list), and which fields are required.
FIELDS: dict[str, dict[str, Any]] = {
    "episode_opened": {"side": SIDES, "features": "features", "protocol": "text"},
    "episode_closed": {"reason": "text"},
    "session_opened": {},
    "session_closed": {},
    "check": {"name": "check", "steps": "steps", "knee": KNEES},
    "mode_set": {"mode": MODES, "support": "support", "knee": KNEES},
    "mode_checked": {"mode": MODES, "ok": "boolean", "knee": KNEES},
    "attempt": {
        "skill": "skill",
        "support": "rung",
        "help": "help",
        "result": RESULTS,
        "deviations": "deviations",
        "measures": "measures",
        "rail": RAILS,
        "began": "instant",
        "despite": "text",
    },
    "setting_changed": {"setting": SETTINGS, "from": "text", "to": "text", "features": "features", "knee": KNEES},
    "fall": {"skill": "skill", "injury": INJURIES, "circumstances": "text", "action": "text"},
    "near_miss": {"skill": "skill", "circumstances": "text", "action": "text"},
    "sign_off": {"skill": "skill", "override": "override", "statement": "text", "evidence": "text", "protocol": "text"},
    "sign_off_withdrawn": {"skill": "skill", "reason": "text"},
    "review": {"of": "ids", "outcome": OUTCOMES, "next_due": "date"},
    "struck_out": {"entry": "uuid", "reason": "text"},
    "correction_requested": {"entry": "uuid", "text": "text", "asked_by": "text"},
    "correction_answered": {"request": "uuid", "answer": ANSWERS, "struck": "ids", "added": "ids", "reason": "text"},
}
REQUIRED = {
    "episode_opened": ["side", "features", "protocol"],
    "check": ["name", "steps"],
    "mode_set": ["mode"],
    "mode_checked": ["mode", "ok"],
    "attempt": ["skill", "support", "help", "result"],
    "setting_changed": ["setting"],
    "fall": ["injury"],
    "sign_off": ["skill"],
    "sign_off_withdrawn": ["skill"],
    "struck_out": ["entry", "reason"],
    "correction_requested": ["text", "asked_by"],
    "correction_answered": ["request", "answer"],
}
DEFAULTS: dict[str, dict[str, Any]] = {
    "attempt": {"deviations": [], "measures": {}},
    "review": {"of": []},
    "correction_answered": {"struck": [], "added": []},
}
HAVE_TAGS = ["attempt", "fall", "near_miss", "sign_off", "sign_off_withdrawn"]

_INSTANT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]{1,6})?(Z|[+-][0-9]{2}:[0-9]{2})")
_UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
_DURATION = re.compile(r"P(?:([0-9]+)W)?(?:([0-9]+)D)?(?:T(?:([0-9]+)H)?(?:([0-9]+)M)?(?:([0-9]+)S)?)?")


def is_number(value: object) -> bool:
    """A finite number; true and false are none."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)


def is_integer(value: object) -> bool:
    """A number without fraction, however written (section 2)."""
    return is_number(value) and float(value) == int(value)  # type: ignore[arg-type, call-overload]  # is_number has looked


def is_uuid(value: object) -> bool:
    return isinstance(value, str) and _UUID.fullmatch(value) is not None


def is_date(value: object) -> bool:
    if not isinstance(value, str) or re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value) is None:
        return False
    try:
        date.fromisoformat(value)
    except ValueError:
        return False
    return True


def instant(text: object) -> datetime | None:
    """The instant that an RFC 3339 text names, or None where it is none by section 1."""
    return _instant(text) if isinstance(text, str) else None


@cache
def _instant(text: str) -> datetime | None:
    if _INSTANT.fullmatch(text) is None:
        return None
    if text[-1] != "Z" and (int(text[-5:-3]) > 23 or int(text[-2:]) > 59):
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def seconds(text: object) -> int | None:
    """An ISO 8601 duration of whole weeks, days, hours, minutes and seconds; a day is 24 hours."""
    match = _DURATION.fullmatch(text) if isinstance(text, str) else None
    if match is None or str(text).endswith(("P", "T")):
        return None
    weeks, days, hours, minutes, secs = (int(part or 0) for part in match.groups())
    return ((weeks * 7 + days) * 24 + hours) * 3600 + minutes * 60 + secs


def same(left: Any, right: Any) -> bool:
    """Equal as JSON: numbers by value, and true is not 1."""
    if isinstance(left, bool) or isinstance(right, bool):
        return left is right
    if isinstance(left, dict) and isinstance(right, dict):
        return left.keys() == right.keys() and all(same(left[key], right[key]) for key in left)
    if isinstance(left, list) and isinstance(right, list):
        return len(left) == len(right) and all(same(a, b) for a, b in zip(left, right, strict=True))
    return bool(left == right)
