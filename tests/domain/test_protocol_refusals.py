"""A protocol document is refused with the place of its fault (SEMANTICS.md §2)."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from checklists.domain import ProtocolRefused, load_protocol
from tests.domain.example import DOCUMENT, PROTOCOL, document

Spoil = Callable[[dict[str, Any]], object]


def _top(**fields: Any) -> Spoil:
    return lambda spoilt: spoilt.update(fields)


def _deadline(**fields: Any) -> Spoil:
    return lambda spoilt: spoilt["rules"][7].update(fields)


def _skill(number: int, **fields: Any) -> Spoil:
    return lambda spoilt: spoilt["skills"][number].update(fields)


def _stand(**fields: Any) -> Spoil:
    return lambda spoilt: spoilt["skills"][1]["proven"].update(fields)


def _rule(**fields: Any) -> Spoil:
    return lambda spoilt: spoilt["rules"][0].update(fields)


def _when(formula: Any) -> Spoil:
    return _rule(when=formula)


def _atom(**fields: Any) -> Spoil:
    return _when({"entry": fields})


FAULTS: dict[str, list[Spoil]] = {
    "titel": [lambda spoilt: spoilt.update(titel="x")],
    "title": [
        lambda spoilt: spoilt.pop("title"),
        lambda spoilt: spoilt.update(title=3),
        lambda spoilt: spoilt.update(title="\ud800"),
    ],
    "version": [_top(version=value) for value in (-1, 1.5, True, "1", float("inf"))],
    "gap_days": [lambda spoilt: spoilt.update(gap_days=None)],
    "support": [lambda spoilt: spoilt.update(support=[])],
    "support[6]": [_top(support=[*DOCUMENT["support"], word]) for word in ("none", "both_rails", 7)],
    "checks[1].steps[2]": [lambda spoilt: spoilt["checks"][1]["steps"].append("caught")],
    "checks[0].per_knee": [lambda spoilt: spoilt["checks"][0].update(per_knee=1)],
    "deviations[1].key": [lambda spoilt: spoilt["deviations"][1].update(key="bent_trunk")],
    "measures[0].unit": [lambda spoilt: spoilt["measures"][0].pop("unit")],
    "skills[1].key": [_skill(1, key="don")],
    "skills[1].after[0]": [_skill(1, after=["dom"])],
    "skills[0].after": [_skill(0, after=["ramp"]), _skill(0, after=["don"])],
    "skills[2].needs[0]": [_skill(2, needs=["lok"])],
    "skills[1].rungs": [_skill(1, rungs=["bars_one", "bars_both", "none"]), _skill(1, rungs=[])],
    "skills[1].rungs[0]": [_skill(1, rungs=["bar"])],
    "skills[1].proven.support": [_stand(support="stick"), lambda spoilt: spoilt["skills"][1]["proven"].pop("support")],
    "skills[1].proven.in_a_row": [_stand(in_a_row=0), _stand(in_a_row=2.5)],
    "skills[1].proven.days": [_stand(days=0)],
    "skills[1].proven.help": [_stand(help="nobody")],
    "skills[1].proven.barred[1]": [_stand(barred=["bent_trunk", "bent_trnk"])],
    "skills[1].proven.measures.helds": [_stand(measures={"helds": [1, 2]})],
    "skills[1].proven.measures.held_s": [_stand(measures={"held_s": value}) for value in ([2, 1], [1], [1, 2, 3])],
    "skills[1].proven.stages": [_skill(1, proven={"stages": []})],
    "skills[1].proven.in_row": [_stand(in_row=2)],
    "skills[1].valid_days": [_skill(1, valid_days=0), _skill(1, valid_days=None)],
    "skills[1].falls_back_on[0]": [_skill(1, falls_back_on=["sockets"])],
    "skills[3].both": [lambda spoilt: spoilt["skills"][3].pop("both"), _skill(3, both={})],
    "skills[3].both.rungs[0]": [_skill(3, both={"rungs": ["contralateral_rail", "none"]})],
    "skills[3].both.proven.support": [
        _skill(3, both={"rungs": ["both_rails"], "proven": {"support": "none", "in_a_row": 1}})
    ],
    "rules[0].key": [_rule(key="gap"), _rule(key="fall_unreviewed")],
    "rules[1].key": [lambda spoilt: spoilt["rules"][1].update(key="locked")],
    "rules[0].severity": [_rule(severity="grave")],
    "rules[0].do_now": [lambda spoilt: spoilt["rules"][0].pop("do_now")],
    "rules[0].require": [lambda spoilt: spoilt["rules"][0].pop("require"), _rule(expect={"all": []}, within="PT1H")],
    "rules[7].within": [_deadline(within=text) for text in ("3H", "P", "PT", "P1M", "PT1.5H")],
    "rules[0].when": [_when({}), _when({"entrie": {}}), _when({"not": {"all": []}, "all": []}), _when([])],
    "rules[0].when.not.once.entry.kind": [_when({"not": {"once": {"entry": {"kind": "atempt"}}}})],
    "rules[0].when.entry.kind": [_atom(kind="struck_out")],
    "rules[0].when.entry.kind[1]": [_atom(kind=["fall", "trip"])],
    "rules[0].when.entry.mode": [_atom(kind="attempt", mode="locked"), _atom(mode="loked")],
    "rules[0].when.entry.tags": [_atom(tags="lods"), _atom(kind="check", tags="loads")],
    "rules[0].when.entry.skill": [_atom(skill="stnad")],
    "rules[0].when.entry.support": [_atom(support="rail")],
    "rules[0].when.entry.deviations[1]": [_atom(deviations=["bent_trunk", "bent"])],
    "rules[0].when.entry.ok": [_atom(kind="mode_checked", ok=1)],
    "rules[0].when.entry.steps.cought": [_atom(kind="check", name="lock_in", steps={"cought": True})],
    "rules[0].when.entry.steps.skin": [_atom(kind="check", name="lock_in", steps={"skin": True})],
    "rules[0].when.entry.measures.held_s": [_atom(measures={"held_s": [3, 2]})],
    "rules[0].when.entry.features": [_atom(features="looking")],
    "rules[0].when.status[0]": [_when({"status": ["reday"]})],
    "rules[0].when.skill": [_when({"status": ["ready"], "skill": "stnad"})],
    "rules[0].when.since": [_when({"since": [{"all": []}]})],
    "rules[0].when.within": [
        _when({"once": {"all": []}, "within": "28"}),
        _when({"not": {"all": []}, "within": "PT1H"}),
    ],
    "rules[0].when.at_least": [_when({"count": {"all": []}, "at_least": -1})],
    "rules[0].when.same_skill": [_when({"count": {"all": []}, "at_least": 1, "same_skill": "yes"})],
}
CASES = [
    pytest.param(place, spoil, id=f"{place}-{n}") for place, spoils in FAULTS.items() for n, spoil in enumerate(spoils)
]


@pytest.mark.parametrize(("place", "spoil"), CASES)
def test_a_fault_is_refused_at_its_place(place: str, spoil: Spoil) -> None:
    spoilt = document()
    spoil(spoilt)
    with pytest.raises(ProtocolRefused) as refused:
        load_protocol(spoilt)
    assert refused.value.place == place
    assert str(refused.value).startswith(f"{place}: ")


@pytest.mark.parametrize(
    "change",
    [
        lambda spoilt: spoilt.update(version=4.0, gap_days=0, source="common practice, no source", note="x"),
        lambda spoilt: spoilt["skills"][1]["proven"].update(in_a_row=2.0, help="watching", barred=["bent_trunk"] * 2),
        lambda spoilt: spoilt["skills"][1].update(watch=["the hip"], source="x", note="y"),
        lambda spoilt: (
            spoilt["skills"][3]["both"].pop("proven")
            and spoilt["skills"][3].update(proven={"support": "none", "in_a_row": 1})
        ),
        lambda spoilt: spoilt["rules"][0].update(when={"entry": {"support": ["both_rails", "stick"]}}),
        lambda spoilt: spoilt["rules"][0].update(when={"all": []}, require={"any": []}, source="x"),
        lambda spoilt: spoilt["rules"][7].update(within="P1DT2H3M4S"),
        lambda spoilt: spoilt.pop("rules"),
    ],
)
def test_what_the_contract_allows_is_taken(change: Spoil) -> None:
    changed = document()
    change(changed)
    assert load_protocol(changed).key == "example"


def test_the_digest_is_that_of_the_canonical_form_however_it_was_written() -> None:
    spread = json.dumps(DOCUMENT, indent=3, sort_keys=True).replace('"version": 3', '"version": 3.0')
    assert load_protocol(spread).digest == load_protocol(spread.encode()).digest == PROTOCOL.digest
    assert load_protocol(document(title="Another")).digest != PROTOCOL.digest


@pytest.mark.parametrize(
    "source", ["", "[", "[]", "null", b"\xff\xfe{", '{"key": "a", "key": "b"}', '{"key": NaN}', "[" * 100_000]
)
def test_what_is_no_json_document_is_refused(source: str | bytes) -> None:
    with pytest.raises(ProtocolRefused):
        load_protocol(source)


def test_a_formula_that_nobody_can_read_is_refused_before_it_exhausts_the_stack() -> None:
    formula: dict[str, Any] = {"all": []}
    for _ in range(150):
        formula = {"not": formula}
    spoilt = document()
    spoilt["rules"][0]["when"] = formula
    with pytest.raises(ProtocolRefused, match="nested too deeply"):
        load_protocol(spoilt)
