"""What else must hold of a ledger's rows, by the app whose rows they are: it registers a check when it is loaded.

A check is given the part that is looked at, the report, and somebody to tell how many rows it has seen.
"""

from __future__ import annotations

from collections.abc import Callable

from clinic.ledger.verify.findings import Report
from clinic.ledger.verify.rows import Part

Check = Callable[[Part, Report, Callable[[int], None]], None]
_checks: dict[str, Check] = {}


def register(name: str, check: Check) -> None:
    """Let a check be part of every verification. The same name again: ValueError."""
    if _checks.setdefault(name, check) is not check:
        raise ValueError(f"There is a check named {name} already.")


def checks() -> list[Check]:
    """All of them, in the order of their names."""
    return [_checks[name] for name in sorted(_checks)]
