"""Sealing on the tablet and opening on the server, held against the vectors of RFC 9180 and against each other.

The vector is the one of the RFC's appendix A.3.1 (DHKEM(P-256, HKDF-SHA256), HKDF-SHA256, AES-128-GCM, base mode),
sequence number 0, https://www.rfc-editor.org/rfc/rfc9180#appendix-A.3.1.
"""

from __future__ import annotations

import base64
import json
import subprocess
from pathlib import Path
from typing import Any

import pytest
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.bindings._rust import openssl
from cryptography.hazmat.primitives.asymmetric.ec import (
    SECP256R1,
    EllipticCurvePrivateKey,
    EllipticCurvePublicKey,
    derive_private_key,
    generate_private_key,
)
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from clinic.ledger import keys, sealing
from clinic.ledger.sealing import SUITE, Unreadable, opened, public_key
from tests.core_js.node import NODE

INFO = "4f6465206f6e2061204772656369616e2055726e"  # "Ode on a Grecian Urn"
PK_E = (
    "04a92719c6195d5085104f469a8b9814d5838ff72b60501e2c4466e5e67b325ac98536d7b61a1af4b78e5b7f951c0900be863c403ce65c9bfcb9"
    "382657222d18c4"
)
SK_E = "4995788ef4b9d6132b249ce59a77281493eb39af373d236a1fe415cb0c2d7beb"
PK_R = (
    "04fe8c19ce0905191ebc298a9245792531f26f0cece2460639e8bc39cb7f706a826a779b4cf969b8a0e539c7f62fb3d30ad6aa8f80e30f1d128a"
    "afd68a2ce72ea0"
)
SK_R = "f3ce7fdae57e1a310d87f1ebbde6f328be0a99cdbcadf4d6589cf29de4b8ffd2"
PLAIN = "4265617574792069732074727574682c20747275746820626561757479"
AAD = "436f756e742d30"
SEALED = "5ad590bb8baa577f8619db35a36311226a896e7342a6d836d8b7bcd2f20b6c7f9076ac232e3ab2523f39513434"


def javascript(*asked: dict[str, Any]) -> list[dict[str, str]]:
    """What the tablet's own code seals."""
    lines = "\n".join(json.dumps(one) for one in asked)
    script = Path(__file__).with_name("sealing.mjs")
    done = subprocess.run([NODE, script], input=lines, capture_output=True, text=True, timeout=60, check=True)
    return [json.loads(line) for line in done.stdout.splitlines()]


def private(number: str) -> EllipticCurvePrivateKey:
    return derive_private_key(int(number, 16), SECP256R1())


def point_of(key: EllipticCurvePublicKey) -> str:
    return key.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint).hex()


def test_the_tablet_seals_what_the_rfc_says() -> None:
    ask = {"point": PK_R, "plain": PLAIN, "info": INFO, "aad": AAD, "ephemeral": {"number": SK_E, "point": PK_E}}
    assert javascript(ask) == [{"enc": PK_E, "box": SEALED}]


def test_the_library_opens_what_the_rfc_says() -> None:
    """The vector has additional data; the programme seals without, and binds by `info` instead."""
    whole = bytes.fromhex(PK_E + SEALED)
    told = openssl.hpke._decrypt_with_aad(SUITE, whole, private(SK_R), info=bytes.fromhex(INFO), aad=bytes.fromhex(AAD))
    assert told.hex() == PLAIN
    with pytest.raises(InvalidTag):
        openssl.hpke._decrypt_with_aad(SUITE, whole, private(SK_R), info=bytes.fromhex(INFO), aad=b"Count-1")


def test_what_the_tablet_seals_the_library_opens_and_no_two_are_alike() -> None:
    receiver = generate_private_key(SECP256R1())
    plains = [b"", b"a mark", "Łódź ✓".encode() * 400]
    ask = [
        {"point": point_of(receiver.public_key()), "plain": plain.hex(), "info": b"gym".hex(), "aad": ""}
        for plain in [*plains, *plains]
    ]
    answers = javascript(*ask)
    assert len({one["enc"] for one in answers}) == len(answers)
    for plain, said in zip([*plains, *plains], answers, strict=True):
        whole = bytes.fromhex(said["enc"] + said["box"])
        assert SUITE.decrypt(whole, receiver, info=b"gym") == plain
        with pytest.raises(InvalidTag):
            SUITE.decrypt(whole, receiver, info=b"gum")


# --- the clinic's keys -----------------------------------------------------------------------------------------------


@pytest.fixture
def place(tmp_path: Path, settings: Any) -> Path:
    """A folder of keys of this test's own."""
    settings.LEDGER_KEYS = str(tmp_path / "keys")
    keys.make(tmp_path / "keys", "alder-reach.example/ledger")
    return tmp_path / "keys"


def sealed_for_newest(plain: bytes, mark: str, staff: str) -> dict[str, Any]:
    name, _, point = public_key().partition(" ")
    info = f"gym mark 1\n{mark}\n{staff}".encode()
    ask = {"point": base64.b64decode(point).hex(), "plain": plain.hex(), "info": info.hex(), "aad": ""}
    [said] = javascript(ask)
    return {"key": name, "enc": bytes.fromhex(said["enc"]), "box": bytes.fromhex(said["box"])}


def test_it_opens_as_this_mark_of_this_person_and_as_no_other(place: Path) -> None:
    one = sealed_for_newest(b"a mark", "id-1", "S-1")
    assert opened(**one, mark="id-1", staff="S-1") == b"a mark"
    for mark, staff in (("id-2", "S-1"), ("id-1", "S-2")):
        with pytest.raises(Unreadable):
            opened(**one, mark=mark, staff=staff)
    for spoiled in ({"box": one["box"][:-1] + b"\0"}, {"enc": b"\4" + b"\0" * 64}, {"enc": b""}, {"key": "9"}):
        with pytest.raises(Unreadable):
            opened(**{**one, **spoiled}, mark="id-1", staff="S-1")
    with pytest.raises(Unreadable):
        opened(**{**one, "key": "../seal/1"}, mark="id-1", staff="S-1")


def test_keys_overlap_and_one_that_was_ended_opens_until_the_next_is(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keys, "LOOK_AGAIN", 0.0)
    first = sealed_for_newest(b"first", "id", "S-1")
    for ended in range(3):
        before = public_key()
        keys.add_sealing(place)
        keys.add_mac(place)
        keys.add_seal(place)
        assert public_key() != before
        assert (sealed := sealed_for_newest(b"new", "id", "S-1"))["key"] == str(ended + 2)
        assert opened(**sealed, mark="id", staff="S-1") == b"new"
        if ended < 2:
            assert opened(**first, mark="id", staff="S-1") == b"first"
        keys.end_oldest(place)
    with pytest.raises(Unreadable):
        opened(**first, mark="id", staff="S-1")
    assert all(path.stat().st_mode & 0o077 == 0 for path in (place / "sealing").iterdir())


def test_without_keys_pages_bring_none(tmp_path: Path, settings: Any) -> None:
    settings.LEDGER_KEYS = str(tmp_path / "nowhere")
    assert public_key() == ""


def test_a_folder_that_is_older_than_sealing_gets_a_key(place: Path) -> None:
    for path in (place / "sealing").iterdir():
        path.unlink()
    (place / "sealing").rmdir()
    sealing._known = None
    assert public_key() == ""
    keys.made_in(place, "alder-reach.example/ledger")
    sealing._known = None
    assert public_key().startswith("1 ")
