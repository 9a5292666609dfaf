"""The courses of the conformance set are what tests/courses.py makes, and there is one for each of the 17 rules."""

from __future__ import annotations

import json

from tests.conformance_set import DEFAULT_PROTOCOL
from tests.courses import FOLDER, MISTAKES, files
from tests.domain.definition_words import BUILT_IN


def test_the_committed_courses_are_what_the_generator_makes() -> None:
    committed = {path.name: path.read_text(encoding="utf-8") for path in FOLDER.glob("*.json")}
    assert committed == files()


def test_each_of_the_17_rules_has_its_mistake() -> None:
    numbers = {make().name.split("_")[1] for make in MISTAKES}
    assert numbers == {f"{number:02d}" for number in range(1, 18)}


def test_each_rule_of_the_default_protocol_is_broken_by_a_course() -> None:
    """Three built-in rules have no number: features, unsupported sign-offs, dangerous strike-outs."""
    protocol = json.loads(DEFAULT_PROTOCOL.read_text(encoding="utf-8"))
    of_the_document = {rule["key"] for rule in protocol["rules"]}
    broken = {rule for make in MISTAKES for rule in make().rules}
    assert broken == of_the_document | (set(BUILT_IN) - {"feature", "unsupported_sign_off", "struck_danger"})


def test_a_mistake_is_made_at_one_act() -> None:
    for text in files().values():
        line = json.loads(text)["cases"][0]["expected"][0]
        assert len({alert["entry"] for alert in line["alerts"]}) <= 1
