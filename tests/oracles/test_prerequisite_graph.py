"""Prerequisites against networkx: what a skill depends on, circles, and the order in which skills are climbed.

Oracle: networkx 3 (ancestors, is_directed_acyclic_graph, topological order).
"""

from __future__ import annotations

import json
from random import Random
from typing import Any

import networkx as nx
import pytest

from checklists.domain import load_protocol
from tests.conformance_set import DEFAULT_PROTOCOL
from tests.domain import definition
from tests.domain.core import core_refusal, core_replay

DOCUMENT = json.loads(DEFAULT_PROTOCOL.read_text(encoding="utf-8"))
RUNG = {"title": "t", "rungs": ["bars", "none"], "proven": {"support": "none", "in_a_row": 1}}


def random_document(random: Random) -> Any:
    """Up to nine skills with any `after`, circles and a skill after itself included."""
    keys = [f"s{number}" for number in range(random.randint(1, 9))]
    density = random.choice([0.05, 0.15, 0.3])
    skills = [{"key": key, "after": [k for k in keys if random.random() < density], **RUNG} for key in keys]
    if random.random() < 0.6:  # mostly without a circle
        for place, skill in enumerate(skills):
            skill["after"] = [key for key in skill["after"] if key in keys[:place]]
        random.shuffle(skills)
    return {
        "key": "k",
        "version": 1,
        "title": "t",
        "support": ["bars", "none"],
        "help": ["by", "near", "alone"],
        "skills": skills,
    }


def graph_of(document: Any) -> Any:
    """An edge leads from a prerequisite to what builds on it."""
    graph = nx.DiGraph()
    graph.add_nodes_from(skill["key"] for skill in document["skills"])
    graph.add_edges_from((below, skill["key"]) for skill in document["skills"] for below in skill.get("after", []))
    return graph


def depends_on(document: Any) -> dict[str, set[str]]:
    """What each skill depends on, as the program shows it: a fall in one skill counts for exactly those that build on
    it, so an attempt of theirs that is not in hand breaks `fall_review`."""
    keys = [skill["key"] for skill in document["skills"]]
    found: dict[str, set[str]] = {key: set() for key in keys}
    common = {"by": "T", "seq": 0}
    lines = []
    for number, below in enumerate(keys):
        episode = {**common, "episode": below}
        fall = {"kind": "fall", "injury": "none", "skill": below, "at": "2026-03-02T09:00:00Z"}
        lines.append({**episode, **fall, "id": _name(number, 999)})
        for place, skill in enumerate(keys):
            fields = {"kind": "attempt", "support": "bars", "help": "alone", "result": "safe", "skill": skill}
            lines.append({**episode, **fields, "at": "2026-03-02T09:05:00Z", "id": _name(number, place)})
    for report in core_replay(document, lines):
        number = keys.index(report["episode"])
        for alert in report["alerts"]:
            if alert["rule"] == "fall_review":
                skill = keys[int(alert["entry"][-3:])]
                if skill != keys[number]:
                    found[skill].add(keys[number])
    return found


def _name(number: int, place: int) -> str:
    return f"{number:08d}-0000-4000-8000-{place:012d}"


@pytest.mark.parametrize("seed", range(150))
def test_circles_and_dependence_are_those_of_networkx(seed: int) -> None:
    document = random_document(Random(seed))
    graph = graph_of(document)
    if not nx.is_directed_acyclic_graph(graph):
        place = core_refusal(document)
        assert place is not None
        assert "skills" in place
        with pytest.raises(definition.DocumentRefused, match="circle"):
            definition.load(document)
        return
    assert depends_on(document) == {key: nx.ancestors(graph, key) for key in graph}


def test_both_kinds_of_graph_are_among_the_random_ones() -> None:
    kinds = [nx.is_directed_acyclic_graph(graph_of(random_document(Random(seed)))) for seed in range(150)]
    assert kinds.count(True) >= 40
    assert kinds.count(False) >= 25


def test_the_skills_of_the_default_protocol_stand_in_a_climbing_order() -> None:
    """Every skill is listed after its prerequisites, so the list is a topological order of the graph."""
    graph = graph_of(DOCUMENT)
    order = [skill["key"] for skill in DOCUMENT["skills"]]
    assert nx.is_directed_acyclic_graph(graph)
    assert all(order.index(below) < order.index(above) for below, above in graph.edges)
    assert list(load_protocol(DOCUMENT).skills) == order


def test_one_prerequisite_of_the_default_protocol_is_said_twice() -> None:
    """`after` names only what does not follow from the others (transitive reduction), but for the one that the trade's
    table itself says twice: level walking beside the slope down, which builds on it."""
    graph = graph_of(DOCUMENT)
    doubled = set(graph.edges) - set(nx.transitive_reduction(graph).edges)
    assert doubled == {("even_walk", "kerb_uneven")}
