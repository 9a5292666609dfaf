"""`manage.py demo`: the whole clinic, invented, on one machine and with one command."""

import argparse
import os
import shutil
import signal
import socket
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Sequence
from pathlib import Path

from clinic.run.claim import Claim
from clinic.run.parent import Parent, Program
from clinic.run.places import Unusable, data_folder
from clinic.run.progress import complain, say
from clinic.run.servers import Servers, begin, manage

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
    words.add_argument("--check", action="store_true", help="stop as soon as everything runs, and say after how long")
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
    """The first page comes before the invented people do: making their year takes longer than anybody likes to wait."""
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
        _prepare(servers, ours)
        parent.listen()
        _start(parent, folder, ours, "web")
        claim.announce(address, ours | servers.owner())
        if _seen(parent, address, give_up=options.check):
            say(f"\n  Open {address}   (first page after {time.time() - began:.1f} s)\n")
            whole = options.empty or _seeded(parent, ours)
            if options.check and not whole:
                return 1
            _start(parent, folder, ours, "worker", "scheduler")
        elif not parent.stopping:
            return 1
        if not parent.stopping:
            _welcome(folder, address, time.time() - began)
        if not options.check:
            parent.watch()
        return 0
    finally:
        parent.stop()
        say("Everything is stopped.")


def _prepare(servers: Servers, environment: dict[str, str]) -> None:
    """Static files and tables at the same time, then the protocol documents."""
    collecting = begin("collectstatic", "--no-input", "--verbosity=0", environment=environment)
    try:
        servers.migrate()
        manage("store_protocols", "--verbosity=0", environment=environment)
    finally:
        code = collecting.wait()
    if code:
        raise Unusable("The static files could not be collected; what went wrong stands above.")


def _start(parent: Parent, folder: Path, environment: dict[str, str], *names: str) -> None:
    if parent.stopping:
        return
    say(f"Starting {' and '.join(names)} …")
    for name in names:
        parent.add(name, Program(f"clinic.run.{name}", os.environ | environment, _log(folder, name)))


def _seen(parent: Parent, address: str, *, give_up: bool) -> bool:
    """Wait for the first page, for ever or, where somebody checks, for a while."""
    waiting = time.monotonic()
    return parent.watch(
        until=lambda: _answers(address),
        give_up=lambda: give_up and time.monotonic() - waiting > LONGEST_START,
    )


def _seeded(parent: Parent, environment: dict[str, str]) -> bool:
    """Make the invented clinic, or live through the days since the last start, while the web serves already. A visitor
    keeps what they look at, however far that came."""
    say("Bringing the demo clinic up to today …")
    seeding = begin("seed_demo", environment=environment)
    try:
        parent.watch(until=lambda: seeding.poll() is not None)
    finally:
        if seeding.poll() is None:
            seeding.terminate()
        code = seeding.wait()
    if code and not parent.stopping:
        say(
            f"The invented clinic did not come up to today (exit status {code}; what went wrong stands above). "
            "It stays as far as it came; `manage.py demo --fresh` begins again."
        )
    return not code


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


def _welcome(folder: Path, address: str, seconds: float) -> None:
    sign_ins = folder / SIGN_INS
    say(f"\n  Everything is running after {seconds:.1f} s: {address}\n")
    if sign_ins.exists():
        say(sign_ins.read_text())
    say(f"  Everything you will see is invented. Data and logs: {folder}")
    say("  Ctrl-C stops everything; the data are kept. `manage.py demo --fresh` begins again.\n")
