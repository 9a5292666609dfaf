"""The conformance set through the definition, through checklists.domain and through `manage.py replay`."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.conformance_set import Case, all_cases, differences, names_the_place
from tests.domain import definition
from tests.domain.core import core_refusal, core_replay

CASES = list(all_cases())
RUN = [case for case in CASES if case.refusal is None]
REFUSED = [case for case in CASES if case.refusal is not None]
ROOT = Path(__file__).parents[2]
# Each of these starts a process of its own; the others reach the same code without its door.
SAMPLE = RUN[::37]


def _name(case: Case) -> str:
    return case.name


def _long_ones_are_slow() -> list[Any]:
    """The naive definition takes a second or two over a course of six weeks."""
    return [pytest.param(case, marks=[pytest.mark.slow] if len(case.entries) > 60 else []) for case in RUN]


def test_the_set_is_large_enough_and_its_names_are_unique() -> None:
    assert len(CASES) >= 150
    assert len({case.name for case in CASES}) == len(CASES)


@pytest.mark.parametrize("case", _long_ones_are_slow(), ids=_name)
def test_definition_gives_the_expected_output(case: Case) -> None:
    assert differences(case.expected, definition.replay(case.document, case.entries, case.at)) == []


@pytest.mark.parametrize("case", REFUSED, ids=_name)
def test_definition_refuses_the_document_at_its_fault(case: Case) -> None:
    assert case.refusal is not None
    with pytest.raises(definition.DocumentRefused) as refused:
        definition.load(case.document)
    assert refused.value.place[: len(case.refusal)] == case.refusal


@pytest.mark.parametrize("case", RUN, ids=_name)
def test_core_gives_the_expected_output(case: Case) -> None:
    assert differences(case.expected, core_replay(case.document, case.entries, case.at)) == []


@pytest.mark.parametrize("case", REFUSED, ids=_name)
def test_core_refuses_the_document_at_its_fault(case: Case) -> None:
    assert case.refusal is not None
    place = core_refusal(case.document)
    assert place is not None
    assert names_the_place(place, case.refusal, case.document), place


def _run_replay(tmp_path: Path, document: Any, lines: list[str], at: str | None) -> subprocess.CompletedProcess[str]:
    protocol, history = tmp_path / "protocol.json", tmp_path / "history.jsonl"
    protocol.write_text(json.dumps(document), encoding="utf-8")
    history.write_text("".join(line + "\n" for line in lines), encoding="utf-8")
    command = [sys.executable, "manage.py", "replay", str(protocol), str(history)]
    command += ["--at", at] if at is not None else []
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=100, check=False)


@pytest.mark.slow
@pytest.mark.parametrize("case", SAMPLE, ids=_name)
def test_replay_command_gives_the_expected_output(case: Case, tmp_path: Path) -> None:
    done = _run_replay(tmp_path, case.document, [json.dumps(entry) for entry in case.entries], case.at)
    assert done.returncode == 0, done.stderr
    assert differences(case.expected, [json.loads(line) for line in done.stdout.splitlines()]) == []


@pytest.mark.slow
def test_replay_command_refuses_a_document_with_exit_2_and_the_place(tmp_path: Path) -> None:
    case = REFUSED[0]
    assert case.refusal is not None
    done = _run_replay(tmp_path, case.document, [], None)
    assert (done.returncode, done.stdout) == (2, "")
    assert names_the_place(done.stderr, case.refusal, case.document)


@pytest.mark.slow
def test_replay_command_reports_lines_that_are_no_entries_by_number_and_goes_on(tmp_path: Path) -> None:
    case = RUN[0]
    lines = ["not JSON", *[json.dumps(entry) for entry in case.entries], "[1, 2]", '{"episode": 7}']
    done = _run_replay(tmp_path, case.document, lines, case.at)
    assert done.returncode == 1
    assert differences(case.expected, [json.loads(line) for line in done.stdout.splitlines()]) == []
    for number in (1, len(lines) - 1, len(lines)):
        assert str(number) in done.stderr


@pytest.mark.slow
def test_replay_command_says_what_is_wrong_with_an_instant(tmp_path: Path) -> None:
    done = _run_replay(tmp_path, RUN[0].document, [json.dumps(entry) for entry in RUN[0].entries], "yesterday")
    assert (done.returncode, done.stdout) == (1, "")
    assert "yesterday" in done.stderr
