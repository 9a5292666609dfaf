"""Runs reelay in a process of its own, since it takes the interpreter down where a pattern has a syntax error.

Reads a JSON list of {"pattern", "trace"} from standard input, writes the verdicts of each step as a list of lists.
"""

from __future__ import annotations

import json
import sys

import reelay


def main() -> None:
    found = []
    for one in json.load(sys.stdin):
        monitor = reelay.discrete_timed_monitor(pattern=one["pattern"], semantics="boolean", condense=False)
        found.append([monitor.update(step)["value"] for step in one["trace"]])
    json.dump(found, sys.stdout)


if __name__ == "__main__":
    main()
