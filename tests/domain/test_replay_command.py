"""`manage.py replay` from end to end, in a process of its own (SEMANTICS.md §7)."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.domain.example import DOCUMENT, Story, document, uuid_of

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]


def _replay(
    folder: Path, lines: list[str], *arguments: str, source: str | None = None
) -> subprocess.CompletedProcess[str]:
    protocol, history = folder / "protocol.json", folder / "history.jsonl"
    protocol.write_text(source if source is not None else json.dumps(DOCUMENT))
    history.write_text("".join(f"{line}\n" for line in lines))
    command = [sys.executable, "manage.py", "replay", str(protocol), str(history), *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)


def _story() -> Story:
    story = Story()
    story.start()
    story.attempt("stand", "none", "watching")
    story.add("mode_set", mode="locked", minutes=30)
    story.add("session_closed", days=1)
    return story


def _lines(story: Story) -> list[str]:
    return [json.dumps(fact) for fact in story.facts]


def test_it_prints_one_line_an_episode_with_alerts_statuses_and_refusals(tmp_path: Path) -> None:
    other = json.dumps({**_story().facts[1], "id": uuid_of(50), "episode": "ALDER-0"})
    done = _replay(tmp_path, [*_lines(_story()), other])
    assert (done.returncode, done.stderr) == (0, "")
    zero, one = (json.loads(line) for line in done.stdout.splitlines())
    assert list(one) == ["episode", "at", "alerts", "skills", "refused"]
    assert (zero["episode"], zero["refused"][-1]["entry"]) == ("ALDER-0", None)
    assert (one["episode"], one["at"], one["refused"]) == ("ALDER-1", "2026-03-03T09:34:00+00:00", [])
    assert one["skills"] == {"don": "open", "stand": "blocked", "yield": "open", "ramp": "blocked"}
    at = "2026-03-02T09:03:00+00:00"
    assert one["alerts"] == [
        {"rule": "prerequisite", "entry": uuid_of(2), "at": at, "severity": "major"},
        {"rule": "support_step", "entry": uuid_of(2), "at": at, "severity": "major"},
        {"rule": "unlocked", "entry": uuid_of(3), "at": "2026-03-02T09:33:00+00:00", "severity": "critical"},
    ]


@pytest.mark.parametrize(("at", "deadline"), [("2026-03-02T12:33:00Z", False), ("2026-03-02T12:33:00.000001Z", True)])
def test_it_reports_as_of_an_instant(tmp_path: Path, at: str, deadline: bool) -> None:
    report = json.loads(_replay(tmp_path, _lines(_story()), "--at", at).stdout)
    assert report["at"] == at
    assert ("unlocked" in [alert["rule"] for alert in report["alerts"]]) is deadline


def test_a_line_that_is_no_entry_is_said_by_number_and_ends_with_1(tmp_path: Path) -> None:
    done = _replay(tmp_path, ["nonsense", *_lines(_story()), '{"episode": 3}'])
    assert done.returncode == 1
    assert [line.split()[:2] for line in done.stderr.splitlines()] == [["line", "1"], ["line", "7"]]
    assert len(done.stdout.splitlines()) == 1


def test_a_refused_protocol_ends_with_2_and_its_place(tmp_path: Path) -> None:
    spoilt = document()
    spoilt["skills"][3]["proven"]["stages"][0]["support"] = "rail"
    done = _replay(tmp_path, _lines(_story()), source=json.dumps(spoilt))
    assert (done.returncode, done.stdout) == (2, "")
    assert "skills[3].proven.stages[0].support: " in done.stderr


@pytest.mark.parametrize("arguments", [["--at", "noon"], ["--until", "noon"], ["surplus"]])
def test_a_bad_argument_ends_with_1(tmp_path: Path, arguments: list[str]) -> None:
    done = _replay(tmp_path, _lines(_story()), *arguments)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr


def test_a_file_that_is_not_there_ends_with_1(tmp_path: Path) -> None:
    command = [sys.executable, "manage.py", "replay", str(tmp_path / "no.json"), str(tmp_path / "no.jsonl")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 1
    assert "no.json" in done.stderr
