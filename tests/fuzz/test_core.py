"""20,000 changed examples on the core and its parsers. `manage.py fuzz --inputs 1000000` tries more of the same."""

from __future__ import annotations

from random import Random
from typing import Any

import pytest
from django.core.management import call_command

from api.fuzz import running, seeds
from api.fuzz.mutate import Mutator, nested, spoiled
from api.fuzz.targets import Target, Targets
from checklists.domain import EntryRefused, Episode, ProtocolRefused, load_protocol, parse_entry

INPUTS, SEED = 20_000, 20261125
NAMES = {"entry", "document", "history", "lines", "body", "import", "shape", "form"}


@pytest.fixture(scope="module")
def targets() -> list[Target]:
    return Targets(seeds.load()).all()


@pytest.mark.slow
@pytest.mark.timeout(300)
def test_twenty_thousand_inputs_are_taken_or_refused_in_words(targets: list[Target]) -> None:
    outcome = running.run(targets, range(INPUTS), SEED)
    assert [(failure.number, failure.target, failure.fault) for failure in outcome.failures] == []
    assert outcome.inputs == INPUTS
    assert set(outcome.tried) == NAMES
    for name in ("entry", "document", "body"):  # deep enough: some are right, some are refused
        assert 0.05 < outcome.refused[name] / outcome.tried[name] < 0.95, name


def test_a_fault_is_found_and_made_again_from_its_number(targets: list[Target]) -> None:
    """The run can fail: a parser that stumbles over what is not a text is caught."""

    def stumbles(obj: Any) -> None:
        obj["by"].strip()

    planted = [Target("planted", 1, targets[0].make, stumbles)]
    outcome = running.run(planted, range(400), 7)
    assert outcome.failures
    first = outcome.failures[0]
    again = running.run(planted, range(first.number, first.number + 1), 7)
    assert again.failures == [first]


def test_an_input_that_keeps_it_busy_is_a_fault(targets: list[Target], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(running, "LONGEST", 0.05)

    def busy(obj: Any) -> None:
        while True:
            pass

    outcome = running.run([Target("busy", 1, targets[0].make, busy)], range(1), 1)
    assert [failure.fault.split(":")[0] for failure in outcome.failures] == ["TooSlow"]


def test_other_seeds_other_inputs_and_no_example_is_changed(targets: list[Target]) -> None:
    found = seeds.load()
    mutator = Mutator([*found.documents, *found.histories])
    before = repr(found.entries[:50])
    first = [mutator.changed(found.entries[n % 50], Random(n)) for n in range(300)]
    assert first == [mutator.changed(found.entries[n % 50], Random(n)) for n in range(300)] or "nan" in repr(first)
    assert first != [mutator.changed(found.entries[n % 50], Random(n + 1_000)) for n in range(300)]
    assert repr(found.entries[:50]) == before
    assert spoiled(b'{"a": 1}' * 9, Random(3)) == spoiled(b'{"a": 1}' * 9, Random(3))


def test_the_command_tells_how_many_of_each(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("fuzz", "--inputs", "300", "--seed", "5")
    said = capsys.readouterr().out
    assert "300 inputs" in said
    assert "0 failed" in said


# --- what it has found, each by itself --------------------------------------------------------------------------------
@pytest.mark.parametrize("source", [[], 3, True, None, [{}], b"3", b"[]", '"x"', "nul"])
def test_a_document_that_is_no_object(source: Any) -> None:
    with pytest.raises(ProtocolRefused, match="document: "):
        load_protocol(source)


def test_half_of_a_character_in_an_old_history_survives_the_snapshot() -> None:
    """It came with a history, is no valid text for the quick writer of JSON, and is kept as it came."""
    found = seeds.load()
    protocol = load_protocol(found.documents[1])
    opening = {**found.histories[0][0], "by": "T\ud8001"}
    entry = parse_entry(opening, protocol)
    episode = Episode.replay(protocol, [entry], reference=entry.episode).episode
    again = Episode.restore(protocol, episode.snapshot())
    assert again.snapshot() == episode.snapshot()


def test_a_whole_number_beyond_every_double() -> None:
    """It could be read, and then had no canonical form: the protocol had no digest."""
    document = {**seeds.load().documents[1], "gap_days": 10**400}
    with pytest.raises(ProtocolRefused, match="gap_days: must be finite"):
        load_protocol(document)


def _first_attempts(found: seeds.Seeds) -> list[Any]:
    """The opening of some history by the small protocol, and an attempt in it."""
    for history in found.histories:
        opening = [one for one in history if one["kind"] == "episode_opened" and one.get("protocol") == "small@1"]
        attempts = [one for one in history if one["kind"] == "attempt" and one.get("skill") == "stand"]
        if opening and attempts and opening[0]["side"] != "both":
            return [*opening[:1], *attempts[:1]]
    raise LookupError("no such history")


@pytest.mark.timeout(20)
def test_a_count_of_thousands_of_millions_is_not_written_out() -> None:
    """A verdict was tabulated for each number up to the bound: that took all memory there is."""
    found = seeds.load()
    rule: Any = {"key": "many", "sentence": "A rule of the test.", "severity": "minor", "do_now": "Stop."}
    attempt = {"entry": {"kind": "attempt"}}
    rule |= {"when": attempt, "require": {"count": attempt, "at_least": 2**40, "same_skill": True}}
    protocol = load_protocol({**found.documents[1], "rules": [rule]})
    entries = [parse_entry(one, load_protocol(found.documents[1])) for one in _first_attempts(found)]
    replayed = Episode.replay(protocol, entries, reference="E1")
    assert "many" in {alert.rule for alert in replayed.alerts}


def test_a_value_inside_sixty_others_is_refused() -> None:
    found = seeds.load()
    protocol = load_protocol(found.documents[1])
    with pytest.raises(EntryRefused):
        parse_entry({**found.entries[0], "features": nested(500, Random(1))}, protocol)
