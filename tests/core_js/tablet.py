"""A tablet for tests: the programme's own copy of a record in JavaScript, as it is or with a core that is spoilt."""

from __future__ import annotations

import json
import shutil
import subprocess
from datetime import timedelta
from pathlib import Path
from typing import Any

from clinic.staff.models import Staff
from tests.core_js.node import NODE

ROOT = Path(__file__).parents[2]
SCRIPT, SCRIPTS = "tests/core_js/tablet.mjs", "checklists/static/checklists"


def judged(
    pack: dict[str, Any], staff: Staff, *facts: dict[str, Any], root: Path = ROOT, slow: timedelta = timedelta()
) -> dict[str, Any]:
    """What the tablet says of facts that this member of staff records on it, by id: as it goes along with them. `slow`:
    how much its clock is."""
    who = {"reference": staff.reference, "name": staff.name}
    question = {"pack": pack, "staff": who, "facts": facts, "slow": slow.total_seconds()}
    done = subprocess.run(
        [NODE, str(root / SCRIPT)], input=json.dumps(question), capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    said: dict[str, Any] = json.loads(done.stdout)
    return said


def spoilt(folder: Path, script: str, right: str, wrong: str) -> Path:
    """A checkout of the tablet's scripts in which one place of one script of the core says something else."""
    for part in ("core", "floor"):
        shutil.copytree(ROOT / SCRIPTS / part, folder / SCRIPTS / part)
    (folder / SCRIPT).parent.mkdir(parents=True)
    shutil.copy(ROOT / SCRIPT, folder / SCRIPT)
    place = folder / SCRIPTS / "core" / script
    text = place.read_text(encoding="utf-8")
    assert text.count(right) == 1
    place.write_text(text.replace(right, wrong), encoding="utf-8")
    return folder
