"""The numbers in clinic/guide/SECURITY.md are those by which the programme runs."""

from __future__ import annotations

import re
import subprocess
import sys
from functools import cache

import pytest

from clinic.run.places import ROOT
from clinic.staff import attempts
from clinic.staff.sign_in import GIVEN_FOR, MOST_WRONG

GUIDE = (ROOT / "clinic/guide/SECURITY.md").read_text()
# what ASVS 5.0.0 asks to be written down: V2.1, V5.1, V6.1, V7.1, V8.1, V11.1, V13.1, V14.1, V15.1, V16.1
SECTIONS = (
    *("What may be sent", "How much may be asked", "Signing in", "Sessions", "Who may see and do what"),
    *("Keys and algorithms", "Connections", "Data, by how much harm it does", "Logs", "Libraries"),
)


@cache
def real(name: str) -> str:
    """A setting as a server has it: the tests change some."""
    show = f"from django.conf import settings; print(repr(settings.{name}))"
    given = {"DJANGO_SETTINGS_MODULE": "clinic.settings", "PATH": ""}
    answer = subprocess.run(
        [sys.executable, "-c", show], env=given, cwd=ROOT, capture_output=True, text=True, check=True
    )
    return answer.stdout.strip()


def section(title: str) -> str:
    found = re.search(rf"^## {re.escape(title)}$(.*?)(?=^## |\Z)", GUIDE, re.MULTILINE | re.DOTALL)
    assert found, title
    return " ".join(found[1].split())


@pytest.mark.parametrize("title", SECTIONS)
def test_every_section_that_the_standard_asks_for_says_something(title: str) -> None:
    assert len(section(title)) > 200


def test_the_limits_are_those_of_the_settings() -> None:
    written = re.findall(r"\| (\w+) \| (\d+) \| (\d+) \|", section("How much may be asked"))
    assert repr({kind: (int(most), int(seconds)) for kind, most, seconds in written}) == real("LIMITS")


@pytest.mark.parametrize("name", ["FORM_MAX_BYTES", "STRANGER_MAX_BYTES", "DATA_UPLOAD_MAX_MEMORY_SIZE"])
def test_the_sizes_are_those_of_the_settings(name: str) -> None:
    assert f"{int(real(name)):,}" in section("What may be sent")


def test_the_ends_of_sessions_are_those_of_the_settings() -> None:
    said = section("Sessions")
    assert f"after {int(real('IDLE_SECONDS')) // 60} minutes" in said
    assert f"a PIN's after {real('PIN_IDLE_MINUTES')}" in said
    assert f"any session after {real('SESSION_HOURS')} hours" in said


def test_the_limits_of_wrong_passwords_are_those_of_the_code() -> None:
    said = section("Signing in")
    minutes = int(attempts.WINDOW.total_seconds()) // 60
    words = {5: "Five"}
    assert f"{words[attempts.FROM_HERE]} wrong ones in {minutes} minutes" in said
    assert f"{attempts.FROM_ANYWHERE} everywhere, {attempts.ANY_NAME} an address" in said
    assert f"after {MOST_WRONG} in a row" in said
    assert (GIVEN_FOR.days, "good for three days" in said) == (3, True)
