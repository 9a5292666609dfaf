"""Passwords of the embedded servers and the demo's own key: made by chance at the first start, then kept."""

import json
import os
import secrets
from pathlib import Path

NAMES = ("superuser", "owner", "app", "broker", "key")


def kept_in(folder: Path) -> dict[str, str]:
    """The secrets of this data folder, readable by nobody but its owner."""
    path = folder / "secrets.json"
    known: dict[str, str] = json.loads(path.read_text()) if path.exists() else {}
    missing = [name for name in NAMES if name not in known]
    if missing:
        known |= {name: secrets.token_urlsafe(32) for name in missing}
        partial = path.with_suffix(".new")
        partial.unlink(missing_ok=True)
        with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w") as file:
            json.dump(known, file)
        partial.replace(path)
    return known
