"""The Chromium of this machine, driven from outside: for pictures, measurements and tests. A server needs none."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from clinic.run import machine

if TYPE_CHECKING:
    from playwright.sync_api import Browser  # one of the tests' libraries

NONE = "There is no Chromium on this machine. `python3 manage.py test` as root installs one."
ARGUMENTS = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
)


def arguments() -> list[str]:
    """What it is started with; its sandbox needs a user who is not root."""
    return [*ARGUMENTS, *(["--no-sandbox"] if os.geteuid() == 0 else [])]


@contextmanager
def opened() -> Iterator[Browser]:
    """A browser of its own, closed with the block. RuntimeError where there is none."""
    from playwright.sync_api import sync_playwright

    path = machine.browser()
    if path is None:
        raise RuntimeError(NONE)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=arguments())
        yield browser
        browser.close()
