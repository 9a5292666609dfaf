"""Leaf and MAC: what the writer of a row gives along, so that the sealer knows the row for ours.

The MAC is HMAC-SHA-256 over the leaf, with a key that lies in a file outside the database. Whoever has only the
database, its superuser included, can put a row in, and not this: the sealer does not seal it, and says so.

What the MAC cannot show: that a row which is not sealed yet has been taken away again. That, and nothing else, could be
lost unnoticed: the rows of the last unsealed stretch (clinic/ledger/seal.py).
"""

from __future__ import annotations

import hmac
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from clinic.ledger import keys
from clinic.ledger.sources import Source

BYTES = 32


class Stamp(NamedTuple):
    """What stands in a row's last two columns."""

    leaf: bytes
    mac: bytes


def stamp(source: Source, values: Mapping[str, Any]) -> Stamp:
    """Leaf and MAC for a row that is about to be written. `values`: its columns by name."""
    leaf = source.leaf(values)
    return Stamp(leaf, hmac.digest(keys.mac_key(), leaf, "sha256"))


def is_ours(leaf: bytes, mac: bytes, accepted: Iterable[bytes]) -> bool:
    """Whether one of these keys made the MAC of this leaf."""
    return any(hmac.compare_digest(hmac.digest(key, leaf, "sha256"), mac) for key in accepted)
