"""Nobody changes anything without a row in the trail: every service that somebody calls writes one, read from its
source."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
WRITERS = {"trail.record", "trail.row"}
Function = ast.FunctionDef | ast.AsyncFunctionDef
READS = {"readiness"}  # shows what would be signed; the page and the API that show it leave the row
NAMES_OF_PYTHON = {"get", "save", "filter", "create", "update", "first", "exists", "add", "append", "delete", "items"}


def functions() -> Iterator[tuple[Path, Function]]:
    """Every function of the programme's own rooms."""
    for room in ("clinic", "caseload", "checklists"):
        for path in sorted((ROOT / room).rglob("*.py")):
            if not {"migrations", "demo", "speed", "domain", "run"} & set(path.relative_to(ROOT).parts):
                for node in ast.walk(ast.parse(path.read_text())):
                    if isinstance(node, ast.FunctionDef):
                        yield path, node


def is_service(path: Path, function: Function) -> bool:
    """Whether somebody calls it to change something. Selectors take the actor by position; forms and pages call one."""
    if function.name.startswith("_") or function.name in READS or {"views", "steps"} & set(path.stem.split("_")):
        return False
    return any(argument.arg == "actor" for argument in function.args.kwonlyargs)


def called(function: Function) -> set[str]:
    """The names of what a function calls, as written: `trail.record`, `_signed`, `steps.receive`."""
    return {ast.unparse(node.func) for node in ast.walk(function) if isinstance(node, ast.Call)}


EVERY = list(functions())
BY_NAME: dict[str, list[Function]] = {}
for _path, _function in EVERY:
    BY_NAME.setdefault(_function.name, []).append(_function)
SERVICES = {
    f"{path.relative_to(ROOT)}:{function.name}": function for path, function in EVERY if is_service(path, function)
}


def reaches_the_trail(function: Function, seen: frozenset[str] = frozenset()) -> bool:
    """Whether what it calls, directly or through ours, writes to the trail."""
    for name in called(function):
        if name in WRITERS:
            return True
        last = name.rpartition(".")[2]
        if last in seen or last in NAMES_OF_PYTHON:
            continue
        if any(reaches_the_trail(one, seen | {last, function.name}) for one in BY_NAME.get(last, ())):
            return True
    return False


@pytest.mark.parametrize("name", sorted(SERVICES))
def test_every_service_accounts_for_what_it_does(name: str) -> None:
    assert reaches_the_trail(SERVICES[name]), f"{name} changes something and leaves no row in the trail"


def test_the_services_are_found() -> None:
    names = {name.rpartition(":")[2] for name in SERVICES}
    assert {"sign_off", "record_entries", "end_staff", "edit_person", "acknowledge", "release_held"} <= names
    assert len(names) > 50


def test_one_that_accounts_for_nothing_would_be_seen() -> None:
    tree = ast.parse("def change(*, actor):\n    actor.save()\n    _more(actor)\n")
    (function,) = (node for node in tree.body if isinstance(node, ast.FunctionDef))
    assert not reaches_the_trail(function)
