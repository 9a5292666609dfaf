"""Replaying files: what `manage.py replay` does between its arguments and its exit status (SEMANTICS.md §7)."""

from __future__ import annotations

import gc
from collections.abc import Iterable
from pathlib import Path
from typing import Protocol

from checklists.domain import Protocol as Document
from checklists.domain import ProtocolRefused, instant, load_protocol
from checklists.domain.replay import as_line, replay_lines


class Writes(Protocol):
    """Something that takes text, such as a file or the output of a command."""

    def write(self, text: str, /) -> object:
        """Take a text."""


DONE, BAD_INPUT, PROTOCOL_REFUSED = range(3)


def replay_file(protocol: Path, history: Path, *, at: str | None, out: Writes, complaints: Writes) -> int:
    """Replay a history under a protocol: one JSON line an episode to `out`; returns the exit status."""
    try:
        if at is not None:
            instant.read(at)
        document = load_protocol(protocol.read_bytes())
        with history.open("rb") as lines:
            return replay_under(document, lines, at=at, out=out, complaints=complaints)
    except OSError as fault:
        complaints.write(f"{fault.filename}: {fault.strerror}\n")
        return BAD_INPUT
    except ProtocolRefused as refused:
        complaints.write(f"protocol refused at {refused}\n")
        return PROTOCOL_REFUSED
    except ValueError as fault:
        complaints.write(f"--at {at!r} {fault}\n")
        return BAD_INPUT


def replay_under(document: Document, lines: Iterable[bytes], *, at: str | None, out: Writes, complaints: Writes) -> int:
    """The same of a protocol that is loaded and of lines that are open; an instant that is none: ValueError."""
    bad_lines = 0

    def report_line(number: int, why: str) -> None:
        nonlocal bad_lines
        bad_lines += 1
        complaints.write(f"line {number} {why}\n")

    was_on = gc.isenabled()
    gc.disable()  # nothing here is cyclic, and to look for cycles among a million entries takes time
    try:
        for report in replay_lines(document, lines, at, report_line=report_line):
            out.write(as_line(report).decode() + "\n")
    finally:
        if was_on:
            gc.enable()
    return BAD_INPUT if bad_lines else DONE
