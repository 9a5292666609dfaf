"""The parts of verify.py: against the published vectors and the ledger's own modules, and leaf by leaf of a bundle."""

from __future__ import annotations

import ast
import copy
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest

from checklists.proof.assembled import PARTS, verify_py
from checklists.proof.offline import notes, tree
from checklists.proof.offline.check import checked, verdict
from checklists.proof.offline.page import page
from clinic.ledger.merkle import consistency_path, inclusion_path, leaf_hash, nodes_of, root
from clinic.ledger.note import Checkpoint, NotGenuine, opened, signed
from clinic.ledger.ring import Ring, new_ring
from tests.ledger.test_merkle_refusals import spoiled
from tests.ledger.vectors import CONSISTENCY, ENTRIES, INCLUSION, ROOTS, hashes
from tests.proof.bundles import said
from tests.proof.forging import an_attacker
from tests.proof.scene import Made

AT = datetime(2026, 11, 25, 21, 0, tzinfo=UTC)
LEAVES = [leaf_hash(entry) for entry in ENTRIES]


@pytest.mark.parametrize(("case", "path"), INCLUSION.items(), ids=str)
def test_published_inclusion_paths_are_taken(case: tuple[int, int], path: str) -> None:
    assert tree.included(LEAVES[case[0]], *case, hashes(path), ROOTS[case[1]])


@pytest.mark.parametrize(("case", "path"), CONSISTENCY.items(), ids=str)
def test_published_consistency_paths_are_taken(case: tuple[int, int], path: str) -> None:
    assert tree.continued(*case, hashes(path), ROOTS[case[0]], ROOTS[case[1]])


def test_every_good_proof_is_taken_and_every_spoiled_one_refused() -> None:
    leaves = [leaf_hash(bytes([number])) for number in range(17)]
    nodes, roots = nodes_of(leaves), [root(leaves[:size]) for size in range(18)]
    for size in range(1, 18):
        for index in range(size):
            path = inclusion_path(index, size, nodes)
            assert tree.included(leaves[index], index, size, path, roots[size])
            assert not any(tree.included(leaves[index], index, size, bad, roots[size]) for bad in spoiled(path))
            path = consistency_path(index + 1, size, nodes)
            assert tree.continued(index + 1, size, path, roots[index + 1], roots[size])
            assert not any(tree.continued(index + 1, size, bad, roots[index + 1], roots[size]) for bad in spoiled(path))
    assert not tree.continued(0, 3, [], roots[0], roots[3])


def test_it_takes_the_checkpoints_that_the_ledger_takes() -> None:
    old, new, stranger = (an_attacker(number, "alder-reach.example/ledger") for number in (1, 2, 3))
    ring = new_ring(old).introduce(old, new, size=10, at=AT).close(old.public, new, size=20, at=AT)
    ours = notes.read_ring(ring.dump())
    for size in (0, 9, 10, 15, 20, 21, 10**12):
        for signers in ([old], [new], [old, new], [stranger], [stranger, new]):
            note = signed(Checkpoint(ring.origin, size, b"r" * 32, AT), signers)
            try:
                expected = opened(note, ring).size
            except NotGenuine:
                with pytest.raises(notes.Wrong):
                    notes.opened(note, ours)
            else:
                assert notes.opened(note, ours).size == expected


def test_it_takes_the_rings_that_the_ledger_takes() -> None:
    old, new = (an_attacker(number, "alder-reach.example/ledger") for number in (1, 2))
    good = json.loads(new_ring(old).introduce(old, new, size=10, at=AT).close(old.public, new, size=20, at=AT).dump())
    for path, _ in leaves_of(good):
        bad = changed_at(good, path)
        with pytest.raises(NotGenuine):
            Ring.load(json.dumps(bad))
        with pytest.raises((notes.Wrong, ValueError, KeyError, TypeError)):
            notes.read_ring(json.dumps(bad))


# -- every leaf of a bundle counts -------------------------------------------------------------------------------------

Path = tuple[Any, ...]


def leaves_of(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every value in a JSON document that holds no others, with its place."""
    if isinstance(value, dict | list) and value:
        for name, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from leaves_of(inner, (*path, name))
    else:
        yield path, value


def changed_at(document: Any, path: Path) -> Any:
    """The document with one value changed."""
    copied = copy.deepcopy(document)
    inner = copied
    for name in path[:-1]:
        inner = inner[name]
    value = inner[path[-1]]
    if isinstance(value, str) and value:
        value = value[:-1] + ("0" if value[-1] != "0" else "1")
    elif isinstance(value, int):
        value += 1
    else:
        value = "x" if not value else None
    inner[path[-1]] = value
    return copied


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("name", ["sign_off", "episode"])
def test_no_value_of_a_bundle_can_be_changed(made: Made, name: str) -> None:
    """Whatever single value is changed, with the readable page made anew: it does not hold. But for when the bundle was
    made, which nothing proves and nothing says that it does."""
    files = getattr(made, name)
    bundle = said(files)
    free = {("about", "made_at")}
    tried = 0
    for path, _ in leaves_of(bundle):
        bad = changed_at(bundle, path)
        try:
            made_anew = page(bad).encode()
        except (ValueError, KeyError, TypeError, AttributeError):
            made_anew = files["page.html"]
        lines = checked({**files, "bundle.json": json.dumps(bad).encode(), "page.html": made_anew})
        assert verdict(lines)[0] == (path in free), (path, lines)
        tried += 1
    assert tried > 40


# -- one file ----------------------------------------------------------------------------------------------------------


def test_verify_py_is_one_file_that_an_older_python_reads() -> None:
    found = ast.parse(verify_py(), feature_version=(3, 9))
    imported = {
        name.name.partition(".")[0] if isinstance(one, ast.Import) else (one.module or "").partition(".")[0]
        for one in ast.walk(found)
        if isinstance(one, ast.Import | ast.ImportFrom)
        for name in one.names
    }
    assert "checklists" not in imported
    assert imported - {"cryptography"} <= {*("argparse", "base64", "hashlib", "json", "re", "sys", "zipfile")} | {
        *("pathlib", "typing", "__future__"),
    }
    names = [one.name for one in found.body if isinstance(one, ast.FunctionDef | ast.ClassDef)]
    for one in found.body:
        targets = [one.target] if isinstance(one, ast.AnnAssign) else one.targets if isinstance(one, ast.Assign) else []
        names += [name.id for target in targets for name in ast.walk(target) if isinstance(name, ast.Name)]
    assert len(names) == len(set(names)), "two parts have the same name for different things"
    assert {"included", "opened", "Rows", "Signatures", "page", "checked", "main"} <= set(names)
    assert len(PARTS) == 7
