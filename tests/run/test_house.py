"""House rules that no ready-made tool holds, each with an example that it must refuse and one that it lets pass."""

import ast
import io
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

from clinic.run.places import ROOT

pytestmark = pytest.mark.slow

CLOCKS = {"now", "today", "utcnow", "localtime", "monotonic", "perf_counter", "time_ns"}
# House style asks for 150 and 40 lines; these are where review ends and refusal begins.
LONGEST_MODULE = 400
LONGEST_FUNCTION = 60
OURS = ("clinic/", "caseload/", "checklists/", "api/", "tests/")


def _python_files(*folders: str) -> list[Path]:
    files = [path for folder in OURS for path in (ROOT / folder).rglob("*.py") if "migrations" not in path.parts]
    return [path for path in files if str(path.relative_to(ROOT)).startswith(folders or OURS)]


def reads_the_clock(source: str) -> list[int]:
    """The lines that ask what time it is."""
    calls = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call)]
    # with something in brackets these two convert a given time, or are somebody's own function
    calls = [call for call in calls if not (call.args and _name(call) in {"localtime", "today"})]
    return [call.lineno for call in calls if _name(call) in CLOCKS]


def _name(call: ast.Call) -> str:
    if isinstance(call.func, ast.Attribute):
        return call.func.attr
    return call.func.id if isinstance(call.func, ast.Name) else ""


def too_long(source: str) -> Iterator[str]:
    """Functions that should be two."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            lines = (node.end_lineno or node.lineno) - node.lineno + 1
            if lines > LONGEST_FUNCTION:
                yield f"{node.name} has {lines} lines"


SILENCES = re.compile(r"\b(?:noqa|type: ignore|fmt: (?:skip|off)|pragma)")
# … and behind it, after a dash or a second comment, why: two words at least
SAID_WHY = re.compile(r"\b(?:noqa(?:: [A-Z0-9, ]+)?|type: ignore\[[a-z, -]+\]|fmt: skip)\s+[#–—-]\s*\w\S*\s+\S")


def silent(source: str) -> list[int]:
    """The lines that silence a check, or leave a test out, and do not say why beside it."""
    tokens = tokenize.generate_tokens(io.StringIO(source).readline)
    comments = [token for token in tokens if token.type == tokenize.COMMENT and SILENCES.search(token.string)]
    found = [token.start[0] for token in comments if not SAID_WHY.search(token.string)]
    return found + [
        node.lineno for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Call) and _left_out(node)
    ]


def _left_out(call: ast.Call) -> bool:
    """Whether a call leaves a test out, or lets it fail, without a sentence."""
    if _name(call) not in {"skip", "skipif", "xfail", "importorskip"}:
        return False
    said = [call.args[0]] if _name(call) == "skip" and call.args else []
    said += [each.value for each in call.keywords if each.arg in ("reason", "msg")]
    return not any(isinstance(each, ast.Constant) and len(str(each.value).split()) > 2 for each in said)


@pytest.mark.parametrize(
    "line",
    [
        "x = 1  # no" + "qa: E501",
        "x = 1  # type: ig" + "nore[misc]",
        "x = 1  # type: ig" + "nore  # stubs are wrong",
        "x = 1  # fmt: sk" + "ip",
        "pytest.skip()",
        "pytest.mark.skipif(True)",
        'pytest.mark.xfail(reason="flaky")',
    ],
)
def test_the_rule_about_silence_refuses(line: str) -> None:
    assert silent(f"y = 1\n{line}\n") == [2]


@pytest.mark.parametrize(
    "line",
    [
        "x = 1  # no" + "qa: S311 - nothing secret comes of it",
        "x = 1  # type: ig" + "nore[misc]  # the stubs leave it out",
        "x = 1  # fmt: sk" + "ip  # a table, read by row",
        'pytest.skip("a disk can be mounted by root only")',
        'x = "# no" + "qa"',
    ],
)
def test_the_rule_about_silence_lets_pass(line: str) -> None:
    assert silent(f"y = 1\n{line}\n") == []


def test_what_silences_a_check_says_why() -> None:
    assert {str(path): lines for path in _python_files() if (lines := silent(path.read_text()))} == {}


@pytest.mark.parametrize("line", ["datetime.now(UTC)", "date.today()", "time.monotonic()", "clock.now()", "now()"])
def test_the_rule_about_the_clock_refuses(line: str) -> None:
    assert reads_the_clock(f"x = 1\ny = {line}\n") == [2]


@pytest.mark.parametrize(
    "line",
    [
        "f(now=at)",
        "entry.at + week",
        "x.nowhere()",
        "timezone.localtime(at)",
        "selectors.today(actor, at=at)",
        "datetime.fromisoformat(t)",
    ],
)
def test_the_rule_about_the_clock_lets_pass(line: str) -> None:
    assert reads_the_clock(f"y = {line}\n") == []


def test_the_rule_about_length_refuses_and_lets_pass() -> None:
    body = "def f():\n" + "    x = 1\n" * LONGEST_FUNCTION
    assert list(too_long(body)) == [f"f has {LONGEST_FUNCTION + 1} lines"]
    assert list(too_long(body.replace("    x = 1\n", "", 1))) == []


def test_the_safety_core_never_asks_what_time_it_is() -> None:
    files = _python_files("checklists/domain/")
    assert files
    assert {str(path): lines for path in files if (lines := reads_the_clock(path.read_text()))} == {}


def test_only_the_clock_and_the_processes_ask_what_time_it_is() -> None:
    """One home for the time: everybody else is told. It is asked by the name of its module: a `now` taken out of it
    passes by a clock that is set."""
    homes = (
        "clinic/clock.py",
        "clinic/run/",
        "checklists/speed/measure.py",
    )  # the last one measures how long things take
    files = _python_files("clinic/", "caseload/", "checklists/", "api/")
    asks = {
        str(path.relative_to(ROOT)): lines
        for path in files
        if not str(path.relative_to(ROOT)).startswith(homes)
        and (lines := [n for n in reads_the_clock(path.read_text()) if "clock.now()" not in _line(path, n)])
    }
    assert asks == {}


def _line(path: Path, number: int) -> str:
    return path.read_text().splitlines()[number - 1]


def test_no_module_and_no_function_is_too_long() -> None:
    files = _python_files()
    modules = {str(path): n for path in files if (n := len(path.read_text().splitlines())) > LONGEST_MODULE}
    functions = {str(path): names for path in files if (names := list(too_long(path.read_text())))}
    assert (modules, functions) == ({}, {})
