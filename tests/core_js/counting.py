"""At the end of a run: how many things were compared between the cores, summed over tests and processes."""

from __future__ import annotations

from collections import Counter

import pytest

COUNTED = "compared in "


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """One line a place: Node, the browser."""
    sums: dict[str, Counter[str]] = {}
    for report in terminalreporter.getreports("passed"):
        for name, many in report.user_properties:
            if name.startswith(COUNTED) and isinstance(many, dict):
                sums.setdefault(name, Counter()).update(many)
    for name, many in sorted(sums.items()):
        said = ", ".join(f"{count:,} {what}" for what, count in many.items())
        terminalreporter.write_line(f"{name}: {said}")
