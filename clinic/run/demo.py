"""`manage.py demo`: the whole clinic, invented, on one machine and with one command."""

import argparse
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Sequence
from pathlib import Path

from clinic.run.claim import Claim
from clinic.run.parent import Parent, Program
from clinic.run.places import ROOT, Unusable, data_folder
from clinic.run.progress import complain, say
from clinic.run.servers import Servers, manage

FIRST_PORT, PORTS = 8000, 50
LONGEST_START = 180.0  # seconds after which --check gives up
SIGN_INS = "sign-ins.txt"  # written by `seed_demo` into the data folder


def parser() -> argparse.ArgumentParser:
    """The words that `demo` takes."""
    words = argparse.ArgumentParser(
        prog="manage.py demo", description="Start the demo clinic, Alder Reach. All of it is invented."
    )
    words.add_argument("--fresh", action="store_true", help="forget everything and begin again")
    words.add_argument(
        "--empty", action="store_true", help="without the invented people: make the first account with first_lead"
    )
    words.add_argument("--port", type=int, default=FIRST_PORT, help="where to listen; a busy port is stepped over")
    words.add_argument(
        "--check", action="store_true", help="stop as soon as the first page has been seen, and say after how long"
    )
    return words


def run(arguments: Sequence[str]) -> int:
    """Start everything, watch over it until Ctrl-C, stop everything. Returns the exit status."""
    options = parser().parse_args(list(arguments))
    began = float(os.environ.get("CLINIC_BEGAN", time.time()))
    for number in (signal.SIGTERM, signal.SIGHUP):  # until the parent listens: what was started is stopped
        signal.signal(number, lambda number, frame: sys.exit(128 + number))
    try:
        folder = data_folder()
        claim = Claim(folder)
        if not _claimed(claim):
            return 1
        try:
            return _run(folder, claim, options, began)
        finally:
            claim.release()
    except Unusable as fault:
        complain(fault)
        return 1
    except KeyboardInterrupt:
        return 130


def _claimed(claim: Claim) -> bool:
    if claim.take():
        return True
    running = claim.running()
    if running is not None:
        say(f"The demo is running already: {running['address']}")
        return False
    say("Another command is using the database, or the demo is just starting or stopping; waiting for it.")
    return claim.wait(30)


def _run(folder: Path, claim: Claim, options: argparse.Namespace, began: float) -> int:
    if options.fresh:
        _forget(folder)
    servers, parent = Servers(folder), Parent()
    try:
        say("Starting PostgreSQL and Valkey …")
        parent.add("PostgreSQL", servers.postgres)
        parent.add("Valkey", servers.valkey)
        port = _free_port(options.port)
        address = f"http://127.0.0.1:{port}"
        ours = servers.environment() | {"CLINIC_DEMO": "yes", "PUBLIC_ADDRESS": address, "WEB_PORT": str(port)}
        _prepare(servers, ours, seeded=not options.empty)
        parent.listen()
        say("Starting web, worker and scheduler …")
        for name in ("web", "worker", "scheduler"):
            parent.add(name, Program(f"clinic.run.{name}", os.environ | ours, _log(folder, name)))
        claim.announce(address, ours | servers.owner())
        waiting = time.monotonic()
        seen = parent.watch(
            until=lambda: _answers(address),
            give_up=lambda: options.check and time.monotonic() - waiting > LONGEST_START,
        )
        if seen:
            _welcome(folder, address, time.time() - began, check=options.check)
        if not options.check:
            parent.watch()
        return 0 if seen or parent.stopping else 1
    finally:
        parent.stop()
        say("Everything is stopped.")


def _prepare(servers: Servers, environment: dict[str, str], *, seeded: bool) -> None:
    """Static files and tables at the same time, then the invented clinic."""
    command = [sys.executable, str(ROOT / "manage.py"), "collectstatic", "--no-input", "--verbosity=0"]
    collecting = subprocess.Popen(command, env=os.environ | environment | {"CLINIC_LIFELINE": "1"}, cwd=ROOT)
    try:
        servers.migrate()
        manage("store_protocols", "--verbosity=0", environment=environment)
        if seeded:
            say("Bringing the demo clinic up to today …")
            manage("seed_demo", environment=environment)
    finally:
        code = collecting.wait()
    if code:
        raise Unusable("The static files could not be collected; what went wrong stands above.")


def _forget(folder: Path) -> None:
    """Remove what earlier starts left in the data folder."""
    say("Beginning again: removing what was there.")
    for path in folder.iterdir():
        if path.is_dir():
            shutil.rmtree(path)
        elif path.name != "lock":
            path.unlink()


def _log(folder: Path, name: str) -> Path:
    """Each process's log file, begun anew at each start."""
    path = folder / f"{name}.log"
    path.write_text("")
    return path


def _free_port(wanted: int) -> int:
    """The wanted port, or the next one that is free; a busy one is named."""
    for port in range(wanted, wanted + PORTS):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError:
                say(f"Port {port} is busy; trying the next one.")
            else:
                return port
    raise Unusable(f"No free port between {wanted} and {wanted + PORTS - 1}: name another with --port.")


def _answers(address: str) -> bool:
    """Does the first page come, redirects followed?"""
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:  # noqa: S310 — an address of our own
            return bool(answer.status == 200)
    except (urllib.error.URLError, OSError):
        return False


def _welcome(folder: Path, address: str, seconds: float, *, check: bool) -> None:
    sign_ins = folder / SIGN_INS
    say(f"\n  Open {address}   (first page after {seconds:.1f} s)\n")
    if sign_ins.exists():
        say(sign_ins.read_text())
    say(f"  Everything you will see is invented. Data and logs: {folder}")
    if not check:
        say("  Ctrl-C stops everything; the data are kept. `manage.py demo --fresh` begins again.\n")
