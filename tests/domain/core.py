"""checklists.domain behind the two calls that the comparisons need."""

from __future__ import annotations

import json
from typing import Any

from checklists.domain import ProtocolRefused, load_protocol
from checklists.domain.replay import replay_lines


def core_replay(document: Any, entries: list[dict[str, Any]], at: str | None = None) -> list[dict[str, Any]]:
    """The lines that `manage.py replay` prints for some entries."""
    protocol = load_protocol(json.dumps(document))
    lines = [json.dumps(entry).encode() for entry in entries]
    unread: list[int] = []
    reports = list(replay_lines(protocol, lines, at, report_line=lambda number, _: unread.append(number)))
    assert unread == []
    return json.loads(json.dumps(reports))  # type: ignore[no-any-return]  # JSON has no type


def core_refusal(document: Any) -> str | None:
    """The place of the fault for which a document is refused; None where it is taken."""
    try:
        load_protocol(json.dumps(document))
    except ProtocolRefused as refused:
        return str(refused.place)
    return None
