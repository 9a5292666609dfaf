"""The web process over whatever database this process has, for as long as a block: what is measured in a browser."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from clinic.run import child
from clinic.run.places import ROOT

PATIENCE = 60.0  # seconds


@contextmanager
def served() -> Iterator[str]:
    """Its address; with files of hashed names, as a clinic has them. RuntimeError where it does not come up."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    address = f"http://127.0.0.1:{port}"
    with tempfile.TemporaryDirectory() as folder:
        given = {
            "WEB_PORT": str(port),
            "PUBLIC_ADDRESS": address,
            "STATIC_ROOT": str(Path(folder, "static")),
            "CLINIC_DEMO": "yes",  # without TLS, on this machine alone
        }
        environment, log = os.environ | given | {"CLINIC_LIFELINE": "1"}, Path(folder, "web.log")
        collect = [sys.executable, str(ROOT / "manage.py"), "collectstatic", "--no-input", "--verbosity=0"]
        subprocess.run(collect, env=environment, cwd=ROOT, check=True)
        web = child.start([sys.executable, "-m", "clinic.run.web"], log=log, environment=environment, folder=ROOT)
        try:
            _wait_for(address, log)
            yield address
        finally:
            child.stop(web, signal.SIGTERM, PATIENCE)


def _wait_for(address: str, log: Path) -> None:
    until = time.monotonic() + PATIENCE
    while time.monotonic() < until:
        try:
            with urllib.request.urlopen(f"{address}/live", timeout=5):  # noqa: S310 - our own address
                return
        except (urllib.error.URLError, TimeoutError):
            time.sleep(0.1)
    raise RuntimeError(f"The web process does not answer:\n{log.read_text()}")
