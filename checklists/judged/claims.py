"""What came with the entries: what the core on the tablet had said of each (SEMANTICS.md has one meaning for both).

    {<id of the entry>: {"after": 4711, "with": [<id>, …], "roles": [<role>, …], "alerts": [[rule, entry, severity], …],
                         "core": "1"}}

`after` is the number of the last entry of the server's that the tablet knew, `with` the ids of those that it had
besides, in its order. `roles` are those under which it took these to be recorded, and the entry itself last: the server
stamps them, and somebody's role may have changed since. They may be left out. Whatever cannot be read is left out, with
a sentence: nothing of the record depends on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from checklists.domain.entry_check import UUID

MOST = 1_000  # entries of a call, ids before an entry, alerts of one
LONGEST = 80  # letters of a name
BIGGEST = 2**63 - 1
Alert = tuple[str, str, str]  # rule, entry, severity


@dataclass(frozen=True, slots=True)
class Claim:
    """What was said of one entry."""

    after: int
    before: tuple[str, ...]
    roles: tuple[str | None, ...] | None  # of those before, and of the entry; None: not said
    alerts: frozenset[Alert]
    core: str

    def told(self) -> dict[str, Any]:
        """As it came, alerts in order."""
        alerts = [list(one) for one in sorted(self.alerts)]
        roles = {} if self.roles is None else {"roles": list(self.roles)}
        return {"after": self.after, "with": list(self.before), **roles, "alerts": alerts, "core": self.core}


class Unread(ValueError):
    """What is wrong with it, after the field at fault and a colon."""


def read(sent: object) -> tuple[dict[str, Claim], str | None]:
    """The claims by id of the entry, and a sentence about those that cannot be read."""
    if sent is None:
        return {}, None
    if not isinstance(sent, Mapping) or len(sent) > MOST:
        return (
            {},
            f"judged: must be an object of {MOST:,} entries at most. It was left out; the facts were taken as ever.",
        )
    found: dict[str, Claim] = {}
    faults: list[str] = []
    for name, one in sent.items():
        try:
            found[name] = claim(one)
        except Unread as fault:
            faults.append(str(fault))
    if not faults:
        return found, None
    return found, f"judged: {len(faults)} of {len(sent)} left out ({faults[0]}); the facts were taken as ever."


def claim(sent: object) -> Claim:
    """One claim; Unread where it is none."""
    if not isinstance(sent, Mapping):
        raise Unread("an entry: must be an object")
    after, before, alerts, core = (sent.get(name) for name in ("after", "with", "alerts", "core"))
    if not isinstance(after, int) or isinstance(after, bool) or not 0 <= after <= BIGGEST:
        raise Unread("after: must be the number of an entry, or 0")
    if not isinstance(before, list) or len(before) > MOST or not all(map(_is_id, before)):
        raise Unread(f"with: must be a list of {MOST:,} ids at most")
    if not isinstance(core, str) or not 0 < len(core) <= LONGEST or not core.isprintable():
        raise Unread("core: must be the version of the core, as a text")
    if not isinstance(alerts, list) or len(alerts) > MOST:
        raise Unread(f"alerts: must be a list of {MOST:,} at most")
    return Claim(after, tuple(before), _roles(sent.get("roles"), len(before) + 1), frozenset(map(_alert, alerts)), core)


def _roles(sent: object, many: int) -> tuple[str | None, ...] | None:
    if sent is None:
        return None
    if not isinstance(sent, list) or len(sent) != many or not all(map(_is_role, sent)):
        raise Unread("roles: must be a list of the roles of those in `with`, and of the entry last")
    return tuple(sent)


def _is_role(one: object) -> bool:
    return one is None or (isinstance(one, str) and len(one) <= LONGEST and one.isprintable())


def _is_id(one: object) -> bool:
    return isinstance(one, str) and UUID.fullmatch(one) is not None


def _alert(one: object) -> Alert:
    match one:
        case [str(rule), str(entry), str(severity)]:
            if max(len(rule), len(severity)) <= LONGEST and _is_id(entry) and (rule + severity).isprintable():
                return rule, entry, severity
    raise Unread("alerts: each must be a rule, an entry and a severity")
