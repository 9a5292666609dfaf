"""Every rule of the default protocol without `within` is one automaton, whichever way it is made: exact equality.

1. the protocol's formula, through ltlf2dfa (past LTL) and MONA;
2. a machine written from the words of the trade's table (tests/oracles/machines.py);
3. the rule as checklists.domain judges it, learned from its reports (tests/oracles/learned.py).

Oracles: ltlf2dfa 2.0.0, MONA 1.4-18, automata-lib 9.2.0 (minimal automata are compared). Counts are unrolled, one skill
at a time. The thresholds of the rules are the clinic's defaults: common practice, no source.
"""

from __future__ import annotations

import json
import shutil
from typing import Any

import pytest

from tests.conformance_set import DEFAULT_PROTOCOL
from tests.domain import definition
from tests.domain.definition_fold import Fold
from tests.domain.definition_formula import Sequence
from tests.oracles.learned import Letters, of_machine, of_program
from tests.oracles.letters import ATTEMPTS, MODES, of_one_skill
from tests.oracles.machines import MACHINES
from tests.oracles.ppltl import automaton, broken

DOCUMENT = json.loads(DEFAULT_PROTOCOL.read_text(encoding="utf-8"))
RULES = {rule["key"]: rule for rule in DOCUMENT["rules"]}
RAILS = ["contralateral_rail", "ipsilateral_rail", "both_rails", "none"]
ONE_SKILL = {  # the rules that count, with the skills that they are compared on
    "contralateral_before_ipsilateral": {"ramp_down": RAILS, "stair_down": RAILS},
    "assistant_limits": {"don_check": ["none"], "sit_stand": ["bars_both", "none"], "stair_up": RAILS},
}
FOLD = Fold(definition.load(DOCUMENT), [])

pytestmark = [pytest.mark.slow]


def _holds(atom: dict[str, Any], letter: dict[str, Any]) -> bool:
    """An atom at one entry, by the definition."""
    defaults: dict[str, Any] = {"deviations": [], "measures": {}} if letter["kind"] == "attempt" else {}
    return Sequence(FOLD, [{**defaults, **letter}], [0]).atom(atom, 0)


def _alphabets() -> list[Any]:
    found = []
    for key in MACHINES:
        for skill, rungs in ONE_SKILL.get(key, {}).items():
            found.append(pytest.param(key, of_one_skill(skill, rungs), id=f"{key}-{skill}"))
        if key not in ONE_SKILL:
            found.append(pytest.param(key, {**MODES, **ATTEMPTS}, id=key))
    return found


def test_mona_is_there() -> None:
    assert shutil.which("mona"), "apt install mona: the automata of the rules are made by it"


def test_every_rule_without_a_bound_in_time_has_its_machine() -> None:
    assert set(MACHINES) == {key for key, rule in RULES.items() if '"within"' not in json.dumps(rule)}


@pytest.mark.parametrize(("key", "letters"), _alphabets())
def test_formula_machine_and_program_are_one_automaton(key: str, letters: Letters) -> None:
    of_formula = automaton(broken(RULES[key]), letters, _holds)
    assert of_formula == of_machine(MACHINES[key], letters)
    assert of_formula == of_program(DOCUMENT, RULES[key], letters, of_formula)


def test_a_formula_that_forgets_a_mode_event_is_found_out() -> None:
    """The comparison can fail: without changes of knee among the mode events rule 1 is another automaton."""
    letters = {**MODES, **ATTEMPTS}
    forgets = json.loads(
        json.dumps(RULES["lock_verified"]).replace('{"entry": {"kind": "setting_changed", "setting": "knee"}}, ', "")
    )
    assert forgets != RULES["lock_verified"]
    wrong = automaton(broken(forgets), letters, _holds) ^ of_machine(MACHINES["lock_verified"], letters)
    accepts: Any = wrong.accepts_input  # a word is a sequence of letters, not only a text
    words = {word for word in [("set_locked", "new_knee", "stands"), ("set_locked", "stands")] if accepts(word)}
    assert words == {("set_locked", "new_knee", "stands")}
    right = automaton(broken(RULES["lock_verified"]), letters, _holds)
    assert of_program(DOCUMENT, forgets, letters, right) != right
