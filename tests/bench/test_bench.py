"""The bench: it measures what it says, in turns, and every figure comes out."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
from pathlib import Path

import pytest

from checklists.domain import load_protocol
from checklists.speed.figures import QUICK, Figure
from checklists.speed.histories import copy_of, courses
from checklists.speed.measure import Ratio, in_turns
from checklists.speed.writers import hired
from clinic.run.places import ROOT

# Of a plain page's, whatever else the machine does; on a quiet one a start is 7 and a tap 4. A quick run makes some
# kinds of tap once only, and the figure is the slowest kind's: one that had to wait for another process's turn.
START, TAP = 25.0, 50.0
PROTOCOL = load_protocol((ROOT / "checklists/protocols/above_knee.json").read_bytes())
NAMES = {
    "board_json", "board_growth", "record_entry", "record_16_writers", "overdue_scan", "replay", "replay_peak_mib",
    "floor_tap", "floor_start", "js_replay", "js_step_growth", "js_restore_ms",
    "late_fact", "seal", "verify", "ledger_entry", "ledger_16_writers",
}  # fmt: skip  # a list of words


def test_a_ratio_is_the_programmes_time_by_the_floors() -> None:
    assert Ratio(floor_s=0.002, program_s=0.003, pairs=1).value == pytest.approx(1.5)


def test_floor_and_programme_take_turns_and_each_begins_every_second_pair() -> None:
    ran: list[str] = []
    in_turns(lambda: ran.append("floor"), lambda: ran.append("program"), pairs=4, warm=0)
    assert ran == ["floor", "program", "program", "floor"] * 2


def test_what_is_done_before_each_run_is_done_before_each() -> None:
    ran: list[str] = []
    in_turns(lambda: ran.append("f"), lambda: ran.append("p"), pairs=1, warm=0, before_each=lambda: ran.append("-"))
    assert ran == ["-", "f", "-", "p"]


def test_a_figure_beyond_its_limit_is_not_kept() -> None:
    assert [Figure("x", value, 1.5, "").kept for value in (1.5, 1.51)] == [True, False]


def test_copies_of_a_course_share_no_id_and_no_reference() -> None:
    (course,) = courses(PROTOCOL, facts=60, different=1)
    one, other = copy_of(course, 1), copy_of(course, 2)
    assert not {fact_id for fact_id, _ in one} & {fact_id for fact_id, _ in other}
    assert {json.loads(text)["episode"] for _, text in one} == {"bench-00000001"}
    assert [json.loads(text)["id"] for _, text in one] == [fact_id for fact_id, _ in one]


@pytest.mark.timeout(60)
def test_a_writer_who_falls_is_heard_and_not_waited_for() -> None:
    with pytest.raises(EOFError):
        hired(_falls)


def _falls(_: object) -> None:
    raise SystemExit(3)


@pytest.mark.slow
@pytest.mark.timeout(1_200)
def test_a_quick_run_gives_every_figure(tmp_path: Path) -> None:
    """Whether it works, not how fast: on a machine that is busy with tests the figures mean little."""
    report = tmp_path / "figures.json"
    environment = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "DATA_DIR")}
    command = [sys.executable, str(ROOT / "manage.py"), "bench", "--quick", "--json", str(report)]
    done = subprocess.run(
        command,
        env=environment | {"CLINIC_ENVIRONMENT": "given"},
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr[-2_000:]
    figures = json.loads(report.read_text())
    assert set(figures) == NAMES
    assert all(math.isfinite(value) and value > 0 for value in figures.values())
    assert figures["replay_peak_mib"] < 1_024
    assert figures["floor_start"] < START
    assert figures["floor_tap"] < TAP
    assert QUICK.large < 100_000
