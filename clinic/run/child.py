"""Starts a child process that ends with us, is not hit by our Ctrl-C, and runs as `nobody` where we are root."""

import os
import pwd
import signal
import subprocess
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import IO, Any

from clinic.run.lifeline import die_with_parent

UNPRIVILEGED = "nobody"


def is_root() -> bool:
    """True for root, whom PostgreSQL refuses to serve under."""
    return os.geteuid() == 0


def server_account() -> Mapping[str, Any]:
    """What to give `Popen` so that a database server does not run as root."""
    if not is_root():
        return {}
    entry = pwd.getpwnam(UNPRIVILEGED)
    return {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}


def give_to_server(path: Path, mode: int) -> None:
    """Set a file's mode and, as root, hand it to the account that the servers run under."""
    path.chmod(mode)
    if is_root():
        entry = pwd.getpwnam(UNPRIVILEGED)
        os.chown(path, entry.pw_uid, entry.pw_gid)


def start(
    command: Sequence[str | Path],
    *,
    log: Path,
    at_parents_death: signal.Signals = signal.SIGKILL,
    environment: Mapping[str, str] | None = None,
    account: Mapping[str, Any] | None = None,
    given: str | None = None,
    folder: str | Path = "/",
) -> subprocess.Popen[str]:
    """Start `command` in a process group of its own, writing to the file `log`; `given` is fed to its standard input.

    Call it from the main thread: the kernel watches the thread that forked, not the process.
    """
    with log.open("a") as output:
        process = subprocess.Popen(
            [str(word) for word in command],
            stdin=subprocess.PIPE if given is not None else subprocess.DEVNULL,
            stdout=output,
            stderr=subprocess.STDOUT,
            env=dict(os.environ if environment is None else environment),
            cwd=folder,
            text=True,
            process_group=0,
            preexec_fn=lambda: die_with_parent(at_parents_death, always=True),
            **(account or {}),
        )
    if process.stdin is not None:
        _feed(process.stdin, given or "")
    return process


def _feed(stdin: IO[str], text: str) -> None:
    try:
        stdin.write(text)
        stdin.close()
    except BrokenPipeError:  # it died at once: whoever waits for it to be ready will say so
        pass


def stop(process: subprocess.Popen[str] | None, number: signal.Signals, patience: float) -> None:
    """Ask a child to stop; where it does not within `patience` seconds, kill it."""
    if process is None or process.poll() is not None:
        return
    process.send_signal(number)
    try:
        process.wait(patience)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
