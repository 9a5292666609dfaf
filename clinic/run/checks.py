"""`manage.py test`: everything that has to hold before a change goes in, each step with its name and seconds."""

import argparse
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor

from clinic.run import machine
from clinic.run.places import ROOT, Unusable
from clinic.run.progress import complain, say

QUICK = "not browser and not slow and not chaos"
PYTHON = sys.executable
LATE = "Failed to establish connection with worker"  # mypy gives its processes three seconds to begin, on any machine


def parser() -> argparse.ArgumentParser:
    """The words that `test` takes; anything else goes to pytest."""
    words = argparse.ArgumentParser(
        prog="manage.py test",
        description="Lint, formatting, types, import contracts, migrations, and all tests. "
        "Words not listed here go to pytest, and then only pytest runs: `manage.py test tests/api -k staircase`.",
    )
    words.add_argument("--quick", action="store_true", help="the daily subset: no browser, no slow tests, no types")
    return words


def steps(quick: bool) -> dict[str, list[str]]:
    """Name → command of each step before the tests."""
    all_steps = {
        "types": [PYTHON, "-m", "mypy", "--num-workers", "2", "."],  # the longest first
        "lint": [PYTHON, "-m", "ruff", "check", "--quiet"],
        "formatting": [PYTHON, "-m", "ruff", "format", "--check", "--quiet"],
        "import contracts": [PYTHON, "-c", "from importlinter.cli import lint_imports_command as c; c()", "--no-cache"],
        "missing migrations": [PYTHON, "manage.py", "makemigrations", "--check", "--dry-run"],
    }
    if quick:
        del all_steps["types"]
    return all_steps


def run(arguments: Sequence[str]) -> int:
    """Run every step, even after one has failed, and return 0 only when all passed."""
    options, for_pytest = parser().parse_known_args(list(arguments))
    try:
        if not options.quick:
            machine.provide()
    except Unusable as fault:
        complain(fault)
        return 1
    failed = [] if for_pytest else _failed(steps(options.quick))
    subset = ["-m", QUICK] if options.quick else []
    # three on two cores: a browser, its driver and the server wait for one another a fifth of the time
    # the slowest are named at the end: what has grown is seen before the whole takes too long
    spread = [] if for_pytest else ["-n", "3", "--dist", "loadscope", "--no-loadscope-reorder", "--durations=30"]
    if not _passes("tests", [PYTHON, "-m", "pytest", "-q", *spread, *subset, *for_pytest], quiet=False):
        failed.append("tests")
    if failed:
        say(f"FAILED: {', '.join(failed)}.")
    return 1 if failed else 0


def _failed(commands: Mapping[str, Sequence[str]]) -> list[str]:
    """The steps that do not pass: two run at a time, since most keep one core busy for a moment only."""
    with ThreadPoolExecutor(2) as pool:
        passed = list(pool.map(_passes, commands, commands.values()))
    return [name for name, good in zip(commands, passed, strict=True) if not good]


def _passes(name: str, command: Sequence[str], *, quiet: bool = True) -> bool:
    """Run one step; show what it said only when it failed, unless it is to be seen throughout."""
    say(f"{name} …")
    began = time.monotonic()
    answer = _answer(command, quiet)
    if quiet and LATE in answer.stdout:
        answer = _answer([*command, "--num-workers", "0"], quiet)
    passed = answer.returncode == 0
    if quiet and not passed:
        say(f"{answer.stdout}{answer.stderr}")
    say(f"{name}: {'passed' if passed else 'FAILED'} after {time.monotonic() - began:.0f} s.")
    return passed


def _answer(command: Sequence[str], quiet: bool) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=ROOT, capture_output=quiet, text=True, check=False, stdin=subprocess.DEVNULL)
