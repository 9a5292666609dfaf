"""The core in JavaScript in a process of its own, and the same questions to the core in Python."""

from __future__ import annotations

import base64
import io
import json
import subprocess
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from playwright._impl._driver import compute_driver_executable

from checklists.domain import EntryRefused, ProtocolRefused, load_protocol, parse_entry
from checklists.replay import replay_file

HERE = Path(__file__).parent
CORE = HERE.parents[1] / "checklists" / "static" / "checklists" / "core"
NODE = compute_driver_executable()[0]  # the one that drives the browsers of the tests: nothing more to install


@dataclass(frozen=True)
class Replayed:
    """How a replay ended, what it printed, and what it said on standard error."""

    status: int
    out: str
    said: str


def _sent(value: bytes) -> str:
    return base64.b64encode(value).decode()


class JavaScript:
    """Asks the process, one question after another."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def _ask(self, **question: Any) -> dict[str, Any]:
        self._put(question)
        return self._answer()

    def _put(self, question: dict[str, Any]) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps(question) + "\n")
        self._process.stdin.flush()

    def _answer(self) -> dict[str, Any]:
        assert self._process.stdout is not None
        answer: dict[str, Any] = json.loads(self._process.stdout.readline() or '{"failed": "the process has ended"}')
        assert "failed" not in answer, answer["failed"]
        return answer

    def replay(self, protocol: bytes, history: bytes, at: str | None = None) -> Replayed:
        """What `node tests/replay.mjs` does with the two files."""
        answer = self._ask(ask="replay", protocol=_sent(protocol), history=_sent(history), at=at)
        return Replayed(answer["status"], answer["out"], answer["said"])

    def compared(self, dealt: Sequence[dict[str, Any]]) -> Callable[[], list[dict[str, Any]]]:
        """What compared.mjs says of each; the process works on it until the answers are asked for."""
        self._put({"ask": "compared", "dealt": list(dealt)})
        return lambda: list(self._answer()["found"])

    def load(self, protocol: bytes) -> str:
        """The digest and the reference of a document, or its refusal."""
        answer = self._ask(ask="load", protocol=_sent(protocol))
        return _refusal(answer) or f"{answer['digest']} {answer['reference']}"

    def entry(
        self, protocol: bytes, entry: bytes, *, now: str | None = None, both: bool = False, signing: bool = False
    ) -> Any:
        """What an entry holds once it is read, or its refusal."""
        answer = self._ask(
            ask="entry", protocol=_sent(protocol), entry=_sent(entry), now=now, both=both, signing=signing
        )
        if "refused" in answer:
            return _refusal(answer)
        return float(answer["at"][0]), answer["at"][1], json.loads(answer["content"])


def _refusal(answer: dict[str, Any]) -> str | None:
    return f"refused: {answer['refused']}" if "refused" in answer else None


@contextmanager
def javascript() -> Iterator[JavaScript]:
    """The process, as long as it is needed."""
    command = [NODE, str(HERE / "answers.mjs")]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, encoding="utf-8") as node:
        try:
            yield JavaScript(node)
        finally:
            node.kill()


class Python:
    """The same questions to the core in Python."""

    def __init__(self, folder: Path) -> None:
        self._protocol, self._history = folder / "protocol.json", folder / "history.jsonl"

    def replay(self, protocol: bytes, history: bytes, at: str | None = None) -> Replayed:
        """What `manage.py replay` does with the two files."""
        self._protocol.write_bytes(protocol)
        self._history.write_bytes(history)
        out, said = io.StringIO(), io.StringIO()
        status = replay_file(self._protocol, self._history, at=at, out=out, complaints=said)
        return Replayed(status, out.getvalue(), said.getvalue())

    def load(self, protocol: bytes) -> str:
        """The digest and the reference of a document, or its refusal."""
        try:
            read = load_protocol(protocol)
        except ProtocolRefused as fault:
            return f"refused: {fault}"
        return f"{read.digest} {read.reference}"

    def entry(
        self, protocol: bytes, entry: bytes, *, now: str | None = None, both: bool = False, signing: bool = False
    ) -> Any:
        """What an entry holds once it is read, or its refusal."""
        moment = datetime.fromisoformat(now) if now is not None else None
        try:
            read = parse_entry(json.loads(entry), load_protocol(protocol), now=moment, both=both, signing=signing)
        except EntryRefused as fault:
            return f"refused: {fault}"
        return float(read.at_us), read.day, read.content()


@contextmanager
def python() -> Iterator[Python]:
    """The core in Python, with a folder for its files."""
    with TemporaryDirectory() as folder:
        yield Python(Path(folder))


def as_lines(entries: list[Any]) -> bytes:
    """A history as a file."""
    return b"".join(json.dumps(entry).encode() + b"\n" for entry in entries)
