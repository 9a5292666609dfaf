"""The table in clinic/guide/SIGNATURES.md: every row of the rule is there, and every test that it names exists."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "clinic" / "guide" / "SIGNATURES.md").read_text(encoding="utf-8")
ROWS = [
    [cell.strip() for cell in line.strip("|").split(" | ")]
    for line in GUIDE.splitlines()
    if re.match(r"\| (11\.|164\.)", line)
]
NAMED = sorted(set(re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", GUIDE)))
WANTED = (
    *("11.10(a)", "11.10(b)", "11.10(c)", "11.10(d)", "11.10(e)", "11.10(f)", "11.10(g)", "11.10(h)", "11.50(a)"),
    *("11.50(b)", "11.70", "11.100(a)", "11.100(b)", "11.100(c)", "11.200(a)(1)", "11.200(a)(1)(i)"),
    *("11.200(a)(1)(ii)", "11.200(a)(2)", "11.200(a)(3)", "11.200(b)", "11.300(a)", "11.300(b)", "11.300(c)"),
    *("11.300(d)", "11.300(e)", "164.312(a)(2)(i)", "164.312(a)(2)(ii)", "164.312(a)(2)(iii)", "164.312(a)(2)(iv)"),
    *("164.312(b)", "164.312(c)(1)", "164.312(d)"),
)


@cache
def names_of(path: str) -> frozenset[str]:
    """The names of the tests of a file; none where there is no such file."""
    file = ROOT / path
    if not file.exists():
        return frozenset()
    return frozenset(node.name for node in ast.walk(ast.parse(file.read_text())) if isinstance(node, ast.FunctionDef))


@pytest.mark.parametrize(("path", "name"), NAMED, ids=lambda value: value.rpartition("/")[2])
def test_a_test_that_is_named_exists(path: str, name: str) -> None:
    assert name in names_of(path), f"{path} has no {name}"


def test_every_row_of_the_rule_is_there_once() -> None:
    assert [row[0].split()[0].rstrip(",").partition("–")[0] for row in ROWS] == list(WANTED)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row[0].split()[0])
def test_every_row_has_a_behaviour_and_a_test_or_is_paper(row: list[str]) -> None:
    assert len(row) == 3
    assert row[1]
    assert ("::" in row[2]) != row[1].startswith("*paper:*")


def test_it_is_a_statement_and_never_a_claim() -> None:
    assert "A statement, never a claim of compliance: whether the rule binds a clinic is a legal question" in GUIDE
    assert not re.search(r"\b(compliant|conforms to|certified)\b", GUIDE)


def test_a_test_that_does_not_exist_would_be_seen() -> None:
    assert "test_nothing_of_the_kind" not in names_of("tests/services/test_signatures.py")
    assert names_of("tests/services/test_nowhere.py") == frozenset()
