"""What the written guides name exists: tests, commands, addresses, settings, findings and sections."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest
from django.core.management import get_commands, load_command_class
from django.urls import Resolver404, resolve

from clinic.ledger.verify.findings import Kind
from clinic.run.places import ROOT
from clinic.watch.limits import LIMITS

GUIDES = ROOT / "clinic" / "guide"
HAZARDS, GUIDE = (GUIDES / name for name in ("HAZARDS.md", "GUIDE.md"))
SEVERITIES, LIKELIHOODS = {"grave", "serious", "moderate", "slight"}, {"often", "now and then", "seldom", "rare"}
COLUMNS = 8


def hazards(text: str) -> list[list[str]]:
    """The rows of the log, cell by cell."""
    rows = [line for line in text.splitlines() if re.match(r"\| \d+ \|", line)]
    return [[cell.strip() for cell in line.strip().strip("|").split("|")] for line in rows]


def cited(cell: str) -> list[str]:
    """The tests that a cell names."""
    return re.findall(r"`([^`]+::[^`]+)`", cell)


@cache
def functions_of(path: Path) -> frozenset[str]:
    return frozenset(node.name for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.FunctionDef))


def exists(name: str) -> bool:
    """Whether a test `file::name` below tests/ is there, and is one that pytest runs."""
    file, _, function = name.partition("::")
    path = ROOT / "tests" / file
    return (
        path.is_file()
        and path.name.startswith("test_")
        and function.startswith("test_")
        and function in functions_of(path)
    )


def test_every_hazard_has_a_control_a_test_that_exists_and_says_what_remains() -> None:
    rows = hazards(HAZARDS.read_text())
    assert len(rows) >= 35
    assert [row[0] for row in rows] == [str(number) for number in range(1, len(rows) + 1)]
    for row in rows:
        assert len(row) == COLUMNS, row[:2]
        assert all(row), row[:2]
        assert cited(row[6]), f"hazard {row[0]} names no test"
        missing = [name for name in cited(row[6]) if not exists(name)]
        assert not missing, f"hazard {row[0]} names what is not there: {missing}"


def test_severity_and_likelihood_are_the_words_that_the_log_explains() -> None:
    for row in hazards(HAZARDS.read_text()):
        before, _, after = row[4].partition(" → ")
        assert row[3] in SEVERITIES, row
        assert {before, after} <= LIKELIHOODS, row
    for word in SEVERITIES | LIKELIHOODS:
        assert f"**{word}**" in HAZARDS.read_text()


def test_a_test_that_is_not_there_would_be_noticed() -> None:
    assert exists("watch/test_guides.py::test_a_test_that_is_not_there_would_be_noticed")
    for name in ("watch/test_guides.py::test_nothing", "watch/nothing.py::test_x", "makers.py::a_lead"):
        assert not exists(name)


@pytest.mark.parametrize(
    "hazard",
    [
        "wrong person",
        "wrong knee",
        "lock is trusted",
        "stale",
        "late fact",
        "Two tablets",
        "clock is wrong",
        "lost on the way",
        "not seen",
        "PIN",
        "thin evidence",
        "Yesterday's backup",
        "key is stolen",
        "translation",
        "misread",
        "this person",
        "broker dead",
    ],
)
def test_the_hazards_that_somebody_asked_for_are_in_the_log(hazard: str) -> None:
    assert any(hazard in row[1] for row in hazards(HAZARDS.read_text()))


def commands(text: str) -> set[tuple[str, tuple[str, ...]]]:
    """Every `manage.py COMMAND` of a text, with the options that follow it there."""
    found = set()
    for said in re.findall(r"manage\.py ([a-z_]+[^`\n|]*)", text):
        words = said.split()
        found.add((words[0].rstrip(".:,;"), tuple(word.rstrip(".,;:`") for word in words if word.startswith("--"))))
    return found


def test_every_command_of_the_guides_exists_and_takes_the_words_that_stand_there() -> None:
    named = {one for path in GUIDES.glob("*.md") for one in commands(path.read_text())}
    assert len(named) >= 15
    for name, options in named:
        assert name in get_commands(), name
        known = load_command_class(get_commands()[name], name).create_parser("manage.py", name)
        for option in options:
            assert option in known._option_string_actions, f"{name} {option}"


def test_the_keys_are_rotated_and_closed_by_the_words_of_the_guide() -> None:
    parser = load_command_class("clinic", "ledger_keys").create_parser("manage.py", "ledger_keys")
    for what in re.findall(r"manage\.py ledger_keys ([a-z]+)", GUIDE.read_text()):
        assert parser.parse_args([what]).what == what


def addresses(text: str) -> set[str]:
    return {one for one in re.findall(r"`(/[a-z][a-z/-]*)`", text) if not one.startswith("/srv")}


def test_every_address_of_the_guides_is_a_page() -> None:
    found = addresses(GUIDE.read_text())
    assert {"/watch/", "/protocol/", "/health", "/live", "/tablets/", "/emergency/all/"} <= found
    for address in found:
        try:
            resolve(address)
        except Resolver404:
            pytest.fail(f"the guide names {address}, which no page has")


def test_every_finding_of_a_verification_has_a_section_of_its_name() -> None:
    headings = set(re.findall(r"^#{2,3} (.+)$", GUIDE.read_text(), re.MULTILINE))
    for kind in Kind:
        assert kind.value in headings, kind.value


def test_every_section_that_the_programme_sends_people_to_exists() -> None:
    headings = {one.lower() for one in re.findall(r"^#{2,3} (.+)$", GUIDE.read_text(), re.MULTILINE)}
    sent = set()
    for path in (ROOT / "clinic").rglob("*.py"):
        plain = re.sub(r'"\s*\n\s*f?"', "", path.read_text())
        sent |= set(re.findall(r"[Rr]ead '([^']+)' in\s+the clinic's guide", plain))
    assert len(sent) >= 3
    assert {one.lower() for one in sent} <= headings, sent


def test_links_between_the_guides_lead_somewhere() -> None:
    for path in GUIDES.glob("*.md"):
        for target in re.findall(r"\]\(([^)#]+\.md)\)", path.read_text()):
            assert (GUIDES / target).is_file(), f"{path.name} → {target}"
    anchors = {
        re.sub(r"[^a-z0-9 -]", "", one.lower()).replace(" ", "-")
        for one in re.findall(r"^#{2,3} (.+)$", GUIDE.read_text(), re.MULTILINE)
    }
    for anchor in re.findall(r"\]\(#([^)]+)\)", GUIDE.read_text()):
        assert anchor in anchors, anchor


def test_the_readme_leads_to_the_guides_and_names_the_watchs_settings() -> None:
    readme = (ROOT / "README.md").read_text()
    assert "clinic/guide/GUIDE.md" in readme
    assert "clinic/guide/HAZARDS.md" in readme
    variables = {one.variable for one in LIMITS}
    for name in re.findall(r"WATCH_[A-Z]+", readme + GUIDE.read_text()):
        assert name in variables | {"WATCH_FOLDERS"}, name


def test_the_guide_defers_to_local_policy_and_licensed_practice() -> None:
    for path in (HAZARDS, GUIDE):
        assert "licensed practice" in path.read_text()
    assert "local policy" in GUIDE.read_text()
    assert "not legal advice" in GUIDE.read_text() or "Nothing here is legal advice" in GUIDE.read_text()
