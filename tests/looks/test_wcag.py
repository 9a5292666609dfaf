"""clinic/guide/WCAG.md: every criterion of levels A and AA of WCAG 2.2 once, and no claim without its test.

Numbers and levels are facts of the published standard (https://www.w3.org/TR/WCAG22/: 86 criteria, of them 31 of
level A and 24 of level AA; 4.1.1 is obsolete and removed there).
"""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

from clinic.run.places import ROOT

A = (
    *("1.1.1", "1.2.1", "1.2.2", "1.2.3", "1.3.1", "1.3.2", "1.3.3", "1.4.1", "1.4.2"),
    *("2.1.1", "2.1.2", "2.1.4", "2.2.1", "2.2.2", "2.3.1", "2.4.1", "2.4.2", "2.4.3", "2.4.4"),
    *("2.5.1", "2.5.2", "2.5.3", "2.5.4", "3.1.1", "3.2.1", "3.2.2", "3.2.6", "3.3.1", "3.3.2", "3.3.7", "4.1.2"),
)
AA = (
    *("1.2.4", "1.2.5", "1.3.4", "1.3.5", "1.4.3", "1.4.4", "1.4.5", "1.4.10", "1.4.11", "1.4.12", "1.4.13"),
    *("2.4.5", "2.4.6", "2.4.7", "2.4.11", "2.5.7", "2.5.8", "3.1.2", "3.2.3", "3.2.4"),
    *("3.3.3", "3.3.4", "3.3.8", "4.1.3"),
)
TEXT = (ROOT / "clinic/guide/WCAG.md").read_text()
ROWS = [[cell.strip() for cell in line.strip("|").split("|")] for line in TEXT.splitlines() if re.match(r"\| \d", line)]
NAMED = re.compile(r"`([\w/]+\.py)::(\w*)`")


@cache
def names_in(file: str) -> frozenset[str]:
    """Every test of a file below tests/."""
    path = Path(ROOT / "tests" / file)
    nodes = ast.walk(ast.parse(path.read_text())) if path.is_file() else ()
    return frozenset(node.name for node in nodes if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"))


def missing(said: str) -> list[str]:
    """Tests named in a row that do not exist; a bare file stands for all of its tests."""
    named = [(file, test, names_in(file)) for file, test in NAMED.findall(said)]
    return [f"{file}::{test}" for file, test, tests in named if test not in tests and (test or not tests)]


def test_every_criterion_of_the_standard_stands_there_once() -> None:
    assert (len(A), len(AA)) == (31, 24)
    wanted = sorted((*A, *AA), key=lambda number: [int(part) for part in number.split(".")])
    assert [row[0] for row in ROWS] == wanted
    assert {row[0]: row[2] for row in ROWS} == {**dict.fromkeys(A, "A"), **dict.fromkeys(AA, "AA")}


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_each_says_what_shows_it_or_why_it_does_not_apply(row: list[str]) -> None:
    _, name, _, state, said = row
    assert len(name) > 5
    assert state in ("met", "not applicable")
    assert missing(said) == []
    if state == "met":
        assert NAMED.sub("", said).strip(" ,") == "", "what shows it, and nothing else"
        assert NAMED.findall(said)
    else:
        assert len(said) > 20, "a reason of some length"


def test_a_test_that_does_not_exist_would_be_found() -> None:
    assert missing("`looks/test_wcag.py::test_nobody_wrote_this`") == ["looks/test_wcag.py::test_nobody_wrote_this"]
    assert missing("`looks/test_nowhere.py::`") == ["looks/test_nowhere.py::"]
    assert missing("`looks/test_wcag.py::`") == []
