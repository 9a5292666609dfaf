"""What stands beside a row of the trail has words: every name that the code gives a detail, and in Spanish others."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from django.utils import translation

from caseload.person.details import PersonDetails
from caseload.referral.details import ReferralDetails
from clinic.audit import details
from clinic.audit.models import TrailRow
from clinic.run.places import ROOT
from clinic.web.tags import plain

ROOMS = ("clinic", "caseload", "checklists", "api")
WRITERS = ("trail.record", "trail.row", "accounted", "steps.accounted", "_note", "_account")
# How a row itself is written, beside its details.
COLUMNS = {"at", "episode", "number", "detail"}


def _keys(value: ast.expr) -> Iterator[str]:
    """The names of every dictionary written out in an expression."""
    for one in ast.walk(value):
        if isinstance(one, ast.Dict):
            yield from (str(key.value) for key in one.keys if isinstance(key, ast.Constant))


def _given(made: ast.FunctionDef) -> Iterator[str]:
    """The names of the details that a function writes: in the call, or in what the call is handed by its name."""
    calls = [one for one in ast.walk(made) if isinstance(one, ast.Call) and ast.unparse(one.func) in WRITERS]
    handed = set()
    for call in calls:
        for word in call.keywords:
            if word.arg in ("detail", None):
                yield from _keys(word.value)
                handed |= {one.id for one in ast.walk(word.value) if isinstance(one, ast.Name)}
            elif word.arg and word.arg not in COLUMNS and not ast.unparse(call.func).startswith("trail"):
                yield word.arg
    for one in ast.walk(made):
        if isinstance(one, ast.Assign) and any(ast.unparse(target) in handed for target in one.targets):
            yield from _keys(one.value)


def written() -> set[str]:
    """Every name of a detail in the code."""
    found: set[str] = set()
    for room in ROOMS:
        for path in (ROOT / room).rglob("*.py"):
            if "migrations" not in path.parts:
                for made in ast.walk(ast.parse(path.read_text())):
                    if isinstance(made, ast.FunctionDef):
                        found.update(_given(made))
    return found


def test_every_name_of_a_detail_has_words() -> None:
    found = written()
    assert found - set(details.NAMES) == set()
    assert len(found) > 60


def test_they_are_others_in_spanish() -> None:
    same = {"bytes", "megabytes", "sha256"}  # signs and units
    with translation.override("es"):
        spanish = {name: details.name_of(name) for name in details.NAMES}
        assert details.value_of("clinic_lead") == "responsable clínico"
    with translation.override("en-gb"):
        assert {name for name in details.NAMES if details.name_of(name) == spanish[name]} == same
        assert details.name_of("measured_on") == "measured on"
        assert [TrailRow(origin=one).came for one in ("command", "other")] == ["command", "other"]
    with translation.override("es"):
        assert TrailRow(origin="page 10.0.0.1").came == "página 10.0.0.1"
    assert (details.name_of("made_up.name"), details.value_of("E26-0001")) == ("made up: name", "E26-0001")


def test_the_names_of_fields_that_changed_are_words_too() -> None:
    """Also of those whose name is no code of a value, or of another one: what is asked of the bench has a setting."""
    fields = [*PersonDetails.__dataclass_fields__, *ReferralDetails.__dataclass_fields__]
    fields += ["site", "label", "resistance_low", "resistance_high", "setting", "text"]
    assert plain(["side", "reason", "setting"], "fields") == "side, reason, setting"
    assert plain("setting", "kind") == "after a change"
    with translation.override("es"):
        assert plain(["side", "reason", "setting"], "fields") == "lado, motivo, ajuste"
        spanish = {name: plain(name, "fields") for name in fields}
    assert {name for name in fields if spanish[name] == plain(name, "fields")} == set()
