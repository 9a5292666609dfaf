"""Bundles taken apart, changed, and put together again; and the ways in which they are checked."""

from __future__ import annotations

import atexit
import io
import json
import shutil
import subprocess
import sys
import tempfile
import venv
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from checklists.proof.bundle import zipped
from checklists.proof.offline.page import page
from tests.makers import now

Files = dict[str, bytes]
Said = dict[str, Any]
MARKS = {"ok  ": "holds", "NO  ": "fails", "?   ": "open", "    ": "note"}


@dataclass(frozen=True)
class Verdict:
    """What somebody who checks a bundle is told."""

    holds: bool
    lines: list[tuple[str, str]]
    sentence: str

    @property
    def faults(self) -> list[str]:
        return [text for status, text in self.lines if status == "fails"]


def files_in(content: bytes) -> Files:
    """The files of a bundle."""
    with zipfile.ZipFile(io.BytesIO(content)) as bundle:
        return {name: bundle.read(name) for name in bundle.namelist()}


def written(path: Path, files: Mapping[str, bytes]) -> Path:
    path.write_bytes(zipped(files, now()))
    return path


def said(files: Files) -> Said:
    bundle: Said = json.loads(files["bundle.json"])
    return bundle


def changed(files: Files, change: Callable[[Said], object], *, page_too: bool = True) -> Files:
    """The files with bundle.json changed, and the readable page made anew to fit, as a forger would."""
    bundle = said(files)
    change(bundle)
    more = {"page.html": page(bundle).encode()} if page_too else {}
    return {**files, "bundle.json": json.dumps(bundle, ensure_ascii=False).encode(), **more}


def run(script: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """A Python that sees the standard library and cryptography, and nothing else, in the folder of the script."""
    command = [str(_python()), "-I", script.name, *arguments]
    return subprocess.run(
        command, cwd=script.parent, env={}, capture_output=True, text=True, timeout=60, check=False, encoding="utf-8"
    )


def verify_py(files: Files, bundle: Path, *more: str) -> Verdict:
    """The verify.py of the bundle, run by a Python that sees the standard library and cryptography, nothing else."""
    script = bundle.with_suffix(".py")
    script.write_bytes(files["verify.py"])
    done = run(script, bundle.name, *more)
    assert done.stderr == ""
    body, _, sentence = done.stdout.rstrip("\n").rpartition("\n\n")
    lines = [(MARKS[line[:4]], line[4:]) for line in body.split("\n")]
    assert done.returncode in (0, 1)
    return Verdict(done.returncode == 0, lines, sentence)


_made: dict[str, Path] = {}


def _python() -> Path:
    """An environment of its own with `cryptography` in it and nothing else of ours."""
    if "python" not in _made:
        place = Path(tempfile.mkdtemp(prefix="only-cryptography-"))
        atexit.register(shutil.rmtree, place, ignore_errors=True)
        venv.create(place, with_pip=False)
        packages = next(place.glob("lib/python3*/site-packages"))
        ours = next(Path(sys.prefix).glob("lib/python3*/site-packages"))
        for name in ("cryptography", "cffi", "_cffi_backend*", "pycparser"):
            for path in ours.glob(name):
                (packages / path.name).symlink_to(path)
        _made["python"] = place / "bin" / "python"
    return _made["python"]
