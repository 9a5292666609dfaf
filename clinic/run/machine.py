"""What the tests need of the machine beyond Python packages, and how it gets there."""

import os
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

from clinic.run.child import is_root
from clinic.run.places import Unusable
from clinic.run.progress import say

BROWSERS = ("chromium-headless-shell", "chromium", "chromium-browser")
LIBRARIES = ("/usr/lib", "/lib", "/usr/lib64", "/usr/local/lib")


@dataclass(frozen=True)
class Need:
    """A Debian package and what it is for."""

    package: str
    purpose: str
    there: bool


def browser() -> str | None:
    """The path of a Chromium, the one for machines without a screen first."""
    return next((path for name in BROWSERS if (path := shutil.which(name))), None)


def _library(pattern: str) -> bool:
    return any(next(Path(folder).glob(f"**/{pattern}"), None) for folder in LIBRARIES if Path(folder).exists())


def needs() -> list[Need]:
    """All of them, each with whether it is there."""
    return [
        Need("chromium-headless-shell", "the browser", browser() is not None),
        Need("libatomic1", "what drives the browser", _library("libatomic.so.1")),
        Need("fonts-dejavu-core", "letters in its pages", Path("/usr/share/fonts/truetype/dejavu").exists()),
        Need("openssl", "the outside authority of time stamps", shutil.which("openssl") is not None),
        Need("mona", "the automata that the rules are compared with", shutil.which("mona") is not None),
    ]


def provide() -> None:
    """Install what is missing where we are root on Debian; elsewhere say what root has to install."""
    missing = [need for need in needs() if not need.there]
    if not missing:
        return
    names = " ".join(need.package for need in missing)
    if not is_root() or shutil.which("apt-get") is None:
        purposes = ", ".join(need.purpose for need in missing)
        raise Unusable(
            f"The tests need {purposes}: let root run `apt-get install --no-install-recommends {names}` once, "
            "then start again."
        )
    say(f"Installing what the tests need of the machine: {names} …")
    _apt("update", "-qq")
    _apt("install", "-y", "-qq", "--no-install-recommends", *names.split())


def _apt(*words: str) -> None:
    """Run apt-get quietly; when it fails, show what it said."""
    surroundings = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
    answer = subprocess.run(["apt-get", *words], capture_output=True, text=True, check=False, env=surroundings)
    if answer.returncode:
        raise Unusable(
            f"{answer.stdout}{answer.stderr}\n`apt-get {' '.join(words)}` failed; what it said stands above."
        )
