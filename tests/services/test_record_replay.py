"""The stored alerts and statuses are those of a fresh replay of the exported record, however the facts arrived."""

from __future__ import annotations

import json
import random
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from caseload.models import Episode
from checklists.alerts.scans import scan_deadlines
from checklists.models import Alert, Entry, Head
from checklists.record import importing
from checklists.record.checking import differences
from checklists.record.export import export, lines
from checklists.record.services import import_entries
from checklists.record.stale import refresh_stale_boards
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from tests.makers import a_check, a_fall, a_lead, a_therapist, ago, an_attempt, an_entry, an_episode, imported, now

pytestmark = pytest.mark.django_db
SKILLS = ("don_check", "sit_stand", "stand_load", "weight_shift", "hip_drive", "swing_release", "ramp_down", "lock_use")


def a_wild_course(draw: random.Random, author: Staff, count: int) -> list[dict[str, Any]]:
    """Facts of some weeks, careless on purpose: every kind, ties of time, strike-outs before and after their
    targets."""
    facts: list[dict[str, Any]] = []
    for _ in range(count):
        at = ago(minutes=draw.randrange(60 * 24 * 40) // 30 * 30)
        facts.append({"by": author.reference, **a_fact(draw, at, facts)})
    draw.shuffle(facts)
    return facts


def a_fact(draw: random.Random, at: datetime, before: list[dict[str, Any]]) -> dict[str, Any]:
    skill, named = draw.choice(SKILLS), draw.choice(before)["id"] if before else None
    falls = [fact["id"] for fact in before if fact["kind"] == "fall"]
    result = draw.choice(["safe", "safe", "unsafe", "stopped"])
    made = [
        lambda: an_attempt(skill, "none", at=at, help="watching", result=result),
        lambda: an_attempt(skill, "bars_both", at=at) if skill in SKILLS[1:6] else an_attempt("sit_stand", at=at),
        lambda: a_check(at=at, bad=draw.choice([(), ("skin",), ("mode",)])),
        lambda: a_check(draw.choice(["lock_in", "lock_out", "free_swing_off", "end_of_session"]), at=at),
        lambda: an_entry("mode_set", at=at, mode=draw.choice(["walking", "locked", "free_swing"]), support="bars_both"),
        lambda: a_fall(at=at, **({"skill": skill} if draw.random() < 0.5 else {})),
        lambda: (
            an_entry("review", at=at, of=falls[-2:], outcome=draw.choice(["cleared", "not_cleared"]))
            if falls
            else an_entry("review", at=at)
        ),
        lambda: an_entry("setting_changed", at=at, setting=draw.choice(["resistance", "alignment", "socket"])),
        lambda: an_entry("sign_off", at=at, skill=skill),
        lambda: an_entry("sign_off_withdrawn", at=at, skill=skill),
        lambda: an_entry("struck_out", at=at, entry=named, reason="wrong") if named else a_check(at=at),
        lambda: an_entry(draw.choice(["session_opened", "session_closed"]), at=at),
    ]
    weights = [6, 6, 4, 3, 3, 2, 2, 1, 3, 1, 3, 2]
    return draw.choices(made, weights)[0]()


@pytest.mark.parametrize("seed", range(12))
def test_whatever_arrives_in_whatever_order_the_stored_state_is_that_of_a_replay(seed: Any) -> None:
    draw = random.Random(seed)
    author = a_therapist()
    episode = an_episode(assigned_to=author)
    facts = a_wild_course(draw, author, 60)
    while facts:
        size = draw.choice([1, 1, 1, 2, 5, 12])
        imported(author, episode, *facts[:size])
        facts = facts[size:]
        if facts and draw.random() < 0.5:
            continue  # the worker is down for a while: what it finds afterwards must be right all the same
        at = now()
        scan_deadlines(at)
        refresh_stale_boards(at)
        assert differences(episode.pk, episode.reference, at) == []
    assert Alert.objects.filter(open=True).count() > 5  # otherwise nothing was compared


def test_one_by_one_and_all_at_once_come_to_the_same() -> None:
    author = a_therapist()
    facts = a_wild_course(random.Random(99), author, 50)
    one_by_one, at_once = an_episode(assigned_to=author), an_episode(assigned_to=author)
    for fact in facts:
        imported(author, one_by_one, fact)
    renamed = {fact["id"]: fact["id"][:-1] + "0" for fact in facts}
    text = json.dumps(facts)
    for old, new in renamed.items():
        text = text.replace(old, new)
    if len(set(renamed.values())) == len(facts) and not set(renamed.values()) & set(renamed):
        imported(author, at_once, *json.loads(text))
        assert alerts_of(one_by_one, renamed) == alerts_of(at_once, {})


def alerts_of(episode: Episode, renamed: dict[str, str]) -> set[tuple[str, str]]:
    rows = Alert.objects.filter(episode=episode, open=True, by_rule=True).values_list("rule", "entry")
    return {(rule, renamed.get(str(entry), str(entry))) for rule, entry in rows}


def test_a_difference_is_found_and_named(capsys: pytest.CaptureFixture[str]) -> None:
    author = a_therapist()
    episode = an_episode(assigned_to=author)
    imported(author, episode, an_attempt(at=ago(minutes=5), by=author))
    Alert.objects.update(open=False)
    board = Head.objects.get(episode=episode).board
    board["skills"]["sit_stand"]["status"] = "signed_off"
    Head.objects.update(board=board)
    with pytest.raises(SystemExit) as ended:
        call_command("check_replay", episode.reference)
    said = capsys.readouterr().out
    assert ended.value.code == 1
    assert "start_check on" in said
    assert "sit_stand is signed_off here and blocked in the replay" in said


def test_no_difference_is_said_too(capsys: pytest.CaptureFixture[str]) -> None:
    an_episode()
    call_command("check_replay")
    assert "1 episodes compared, 0 differences." in capsys.readouterr().err


# --- out and in -------------------------------------------------------------------------------------------------------


def test_an_export_stands_in_the_order_of_reception_and_leaves_a_trace(tmp_path: Path) -> None:
    author = a_therapist()
    episode = an_episode(assigned_to=author)
    late, early = an_attempt(at=ago(days=1), by=author), a_check(at=ago(days=2), by=author)
    imported(author, episode, late)
    imported(author, episode, early)
    call_command("export_record", str(tmp_path / "out.jsonl"), "--episode", episode.reference)
    exported = [json.loads(line) for line in (tmp_path / "out.jsonl").read_text().splitlines()]
    assert [one["id"] for one in exported[1:]] == [late["id"], early["id"]]
    assert TrailRow.objects.get(verb="record.exported").subject_id == episode.reference


def test_an_unknown_episode_is_not_exported(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="no episode E00-0000"):
        call_command("export_record", str(tmp_path / "out.jsonl"), "--episode", "E00-0000")


def test_what_was_exported_comes_back_unchanged(tmp_path: Path) -> None:
    author = a_therapist()
    a_lead()
    episode = an_episode(assigned_to=author)
    same = ago(hours=1)
    imported(author, episode, *[an_attempt("don_check", "none", at=same, by=author) for _ in range(3)])
    with (tmp_path / "out.jsonl").open("wb") as out:
        export([], out, actor=None, at=now())
    call_command("import_record", str(tmp_path / "out.jsonl"))
    assert Entry.objects.count() == 4


def test_an_import_numbers_what_ties_and_refuses_bad_lines_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    author, _ = a_therapist(), a_lead()
    episode = an_episode(assigned_to=author)
    same = ago(days=300)
    good = [an_attempt("don_check", "none", at=same, by=author, episode=episode.reference) for _ in range(3)]
    text = [json.dumps(one).encode() for one in good]
    elsewhere = json.dumps(an_attempt(by=author, episode="E00-0000")).encode()
    deep = b'{"episode": ' + b"[" * 100_000
    bad = [b"\xff\xfe", b"{", b"[1]", elsewhere, deep, json.dumps(good[0] | {"result": "unsafe"}).encode()]
    source = tmp_path / "in.jsonl"
    source.write_bytes(b"\n".join([text[0], bad[0], text[1], *bad[1:], text[2]]) + b"\n")
    with pytest.raises(SystemExit):
        call_command("import_record", str(source))
    said = capsys.readouterr()
    assert [line.split(":")[0] for line in said.out.splitlines()] == [f"line {n}" for n in (2, 4, 5, 6, 7, 8)]
    assert "3 accepted, 6 refused" in said.err
    numbers = [json.loads(line).get("seq", 0) for line in lines(episode.pk)][1:]
    assert numbers == sorted(set(numbers))
    with pytest.raises(SystemExit):
        call_command("import_record", str(source))
    assert "6 refused, 3 repeated" in capsys.readouterr().err


def test_an_import_that_is_stopped_says_what_is_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    author, _ = a_therapist(), a_lead()
    first, second = an_episode(assigned_to=author), an_episode(assigned_to=author)
    facts = [an_attempt("don_check", "none", by=author, episode=one.reference) for one in (first, second)]
    source = tmp_path / "in.jsonl"
    source.write_text("".join(json.dumps(fact) + "\n" for fact in facts))

    whole = import_entries

    def until_the_second(**given: Any) -> Any:
        if given["episode_id"] == second.pk:
            raise KeyboardInterrupt
        return whole(**given)

    monkeypatch.setattr(importing, "import_entries", until_the_second)
    with pytest.raises(KeyboardInterrupt):
        call_command("import_record", str(source))
    assert "Stopped after line 1: 1 accepted." in capsys.readouterr().err
    assert Entry.objects.filter(id=facts[0]["id"]).exists()
