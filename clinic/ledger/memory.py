"""The file of checkpoints: notes one after the other, newest last, outside the database.

It is the first place that a checkpoint leaves the database for, and the sealer's own memory of what it signed last.
"""

from __future__ import annotations

import os
from pathlib import Path

from django.conf import settings

from clinic.ledger.models import Checkpoint

END = "\n\n\n"  # a note holds one empty line and no two
_TAIL = 64 * 1024


def path() -> Path:
    """Where the file is."""
    return Path(settings.LEDGER_CHECKPOINT_FILE)


def last_note() -> str:
    """The newest note in the file; empty where there is none yet. A piece that a crash cut short is no note."""
    try:
        with path().open("rb") as file:
            file.seek(max(0, file.seek(0, os.SEEK_END) - _TAIL))
            tail = file.read().decode("utf-8", errors="replace")
    except FileNotFoundError:
        return ""
    whole = tail.split(END)[:-1]
    return f"{whole[-1].lstrip()}\n" if whole else ""


def remember() -> None:
    """Add the newest checkpoint of the database, where the file does not have it yet."""
    newest = Checkpoint.objects.order_by("-number").values_list("note", flat=True).first()
    if newest is not None:
        append(newest)


def append(note: str) -> None:
    """Add a note, on the disk when this returns. The very last one again: nothing happens."""
    if last_note() == note:
        return
    place = path()
    place.parent.mkdir(parents=True, exist_ok=True)
    with place.open("a+b") as file:
        file.seek(max(0, file.seek(0, os.SEEK_END) - len(END)))
        cut_short = file.read() not in (b"", END.encode())
        file.write(f"{END if cut_short else ''}{note}{END[1:]}".encode())
        file.flush()
        os.fsync(file.fileno())
