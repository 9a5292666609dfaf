"""What `manage.py test` does before the tests: a step that could not begin is begun again, one that failed stays so."""

from __future__ import annotations

import sys

import pytest

from clinic.run import checks

SAYS_LATE = f"import sys; late = '2' in sys.argv and '0' not in sys.argv; print({checks.LATE!r} if late else 'good'); "


@pytest.mark.parametrize(("status", "passed"), [("late", True), ("True", False)])
def test_types_are_looked_at_by_one_process_where_several_did_not_begin_in_time(status: str, passed: bool) -> None:
    """On a busy machine mypy's processes may be too late for it. `status`: what the step ends with, alone or not."""
    command = [sys.executable, "-c", f"{SAYS_LATE}sys.exit({status})", "--num-workers", "2"]
    assert checks._passes("types", command) is passed


def test_types_are_one_of_the_steps_but_not_of_the_daily_ones() -> None:
    assert checks.steps(quick=False)["types"][-3:] == ["--num-workers", "2", "."]
    assert "types" not in checks.steps(quick=True)
