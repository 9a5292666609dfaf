"""clinic/guide/ASVS.md: every requirement of levels 1 and 2 of OWASP ASVS 5.0.0 once, and no claim without its test.

The numbers are facts of the published standard (OWASP/ASVS, 5.0/docs_en, the list of requirements as CSV; 70 of level 1
and 183 of level 2).
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from clinic.run.places import ROOT

# section → the numbers in it that belong to level 1 or 2 (gaps are of level 3)
STANDARD = {
    "1.1": "1-2", "1.2": "1-9", "1.3": "1-11", "1.4": "1-3", "1.5": "1-2",
    "2.1": "1-3", "2.2": "1-3", "2.3": "1-4", "2.4": "1-1",
    "3.2": "1-2", "3.3": "1-4", "3.4": "1-6", "3.5": "1-5", "3.7": "1-2",
    "4.1": "1-3", "4.2": "1-1", "4.3": "1-2", "4.4": "1-4",
    "5.1": "1-1", "5.2": "1-3", "5.3": "1-2", "5.4": "1-3",
    "6.1": "1-3", "6.2": "1-12", "6.3": "1-4", "6.4": "1-4", "6.5": "1-5", "6.6": "1-3", "6.8": "1-4",
    "7.1": "1-3", "7.2": "1-4", "7.3": "1-2", "7.4": "1-5", "7.5": "1-2", "7.6": "1-2",
    "8.1": "1-2", "8.2": "1-3", "8.3": "1-1", "8.4": "1-1",
    "9.1": "1-3", "9.2": "1-4",
    "10.1": "1-2", "10.2": "1-2", "10.3": "1-4", "10.4": "1-11", "10.5": "1-5", "10.6": "1-2", "10.7": "1-3",
    "11.1": "1-2", "11.2": "1-3", "11.3": "1-3", "11.4": "1-4", "11.5": "1-1", "11.6": "1-1",
    "12.1": "1-3", "12.2": "1-2", "12.3": "1-4",
    "13.1": "1-1", "13.2": "1-5", "13.3": "1-2", "13.4": "1-5",
    "14.1": "1-2", "14.2": "1-4", "14.3": "1-3",
    "15.1": "1-3", "15.2": "1-3", "15.3": "1-7",
    "16.1": "1-1", "16.2": "1-5", "16.3": "1-4", "16.4": "1-3", "16.5": "1-3",
    "17.1": "1-1", "17.2": "1-4", "17.3": "1-2",
}  # fmt: skip  # a table, read by row
STATES = ("met", "not applicable", "open")
ROW = re.compile(r"^\| (V\d+\.\d+\.\d+) \| ([^|]+) \| ([^|]+) \| (.+) \|$", re.MULTILINE)
TESTS = re.compile(r"`([\w/]+\.py)::(\w*)`")
TEXT = (ROOT / "clinic/guide/ASVS.md").read_text()
ROWS = ROW.findall(TEXT)


def numbers() -> list[str]:
    found = []
    for section, span in STANDARD.items():
        first, last = map(int, span.split("-"))
        found += [f"V{section}.{number}" for number in range(first, last + 1)]
    return found


@cache
def _tests_of(path: Path) -> frozenset[str]:
    """Every test of a file, also those inside classes."""
    nodes = ast.walk(ast.parse(path.read_text())) if path.is_file() else ()
    return frozenset(node.name for node in nodes if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"))


def missing(said: str) -> list[str]:
    """Tests named in a row that do not exist; a bare file (`x.py::`) stands for all of its tests."""
    named = TESTS.findall(said)
    return [
        f"{file}::{test}"
        for file, test in named
        if test not in (tests := _tests_of(ROOT / "tests" / file)) and (test or not tests)
    ]


def test_exactly_the_requirements_of_the_standard_and_each_once() -> None:
    wanted = numbers()
    assert len(wanted) == 253
    assert [row[0] for row in ROWS] == wanted
    assert TEXT.count("\n| V") == 253, "no row of another form"


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_each_row_says_what_it_must(row: tuple[str, str, str, str]) -> None:
    _, short, state, said = row
    assert state in STATES
    assert 3 <= len(short) <= 80
    if state == "met":
        assert TESTS.findall(said), "met, and no test says so"
        assert missing(said) == []
        assert TESTS.sub("", said).strip(" ,") == "", "what shows it, and nothing else"
    else:
        assert len(said) >= (20 if state == "not applicable" else 60), "a reason of some length"
    if state == "open":
        assert re.search(r"would close it|Follows from|Taking the present", said), "what would close it"


def test_the_counts_at_the_head_are_those_of_the_rows() -> None:
    count = Counter(row[2] for row in ROWS)
    assert f"Met {count['met']}, not applicable {count['not applicable']}, open {count['open']}." in TEXT


def test_a_test_that_does_not_exist_would_be_found() -> None:
    assert missing("`hardening/test_asvs.py::test_nobody_wrote_this`") == [
        "hardening/test_asvs.py::test_nobody_wrote_this"
    ]
    assert missing("`hardening/test_nowhere.py::`") == ["hardening/test_nowhere.py::"]
    assert missing("`hardening/test_asvs.py::test_a_test_that_does_not_exist_would_be_found`") == []
