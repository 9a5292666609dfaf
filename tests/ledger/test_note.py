"""Signed checkpoints and the key ring: what is taken, and everything that is not."""

from __future__ import annotations

import base64
import json
from datetime import UTC, datetime

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from hypothesis import given, settings
from hypothesis import strategies as st

from clinic.ledger.note import Checkpoint, NotGenuine, Signer, key_id, opened, parsed, sign_text, signed, verified
from clinic.ledger.ring import Ring, new_ring

ORIGIN = "alder-reach.example/ledger"
AT = datetime(2026, 11, 25, 20, 56, 6, 120, tzinfo=UTC)


def a_signer(number: int, name: str = ORIGIN) -> Signer:
    return Signer(name, Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32))


OLD, NEW, STRANGER = a_signer(1), a_signer(2), a_signer(9)
ONE = new_ring(OLD)
BOTH = ONE.introduce(OLD, NEW, size=100, at=AT)
HANDED_ON = BOTH.close(OLD.public, NEW, size=120, at=AT)


def a_checkpoint(size: int = 50, origin: str = ORIGIN) -> Checkpoint:
    return Checkpoint(origin, size, bytes([size % 256]) * 32, AT)


# -- the format ----------------------------------------


def test_a_published_note_is_taken() -> None:
    """The example of the documentation of golang.org/x/mod/sumdb/note: key, text and signature."""
    name, public = "PeterNeumann", base64.b64decode("ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW")[1:]
    body = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n"
    line = (
        "— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyBwJnAM=\n"
    )
    assert key_id(name, public).hex() == "c74f20a3"
    text, signatures = parsed(body + "\n" + line)
    assert text == body
    assert verified(text, signatures, {key_id(name, public): public}, name) == {public}
    private = base64.b64decode("AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz")[1:]
    signer = Signer(name, Ed25519PrivateKey.from_private_bytes(private))
    assert sign_text(body, [signer]) == body + "\n" + line


def test_a_checkpoint_is_written_as_the_format_has_it() -> None:
    origin, size, root, at, gap, signature, end = signed(a_checkpoint(7), [OLD]).split("\n")
    assert (origin, size, at, gap, end) == (ORIGIN, "7", "at 2026-11-25T20:56:06.000120Z", "", "")
    assert base64.b64decode(root) == b"\x07" * 32
    dash, name, value = signature.split(" ")
    assert (dash, name) == ("—", ORIGIN)
    assert base64.b64decode(value)[:4] == key_id(ORIGIN, OLD.public)
    body = "\n".join((origin, size, root, at)) + "\n"
    Ed25519PublicKey.from_public_bytes(OLD.public).verify(base64.b64decode(value)[4:], body.encode())


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 2**62), st.binary(min_size=32, max_size=32), st.datetimes(timezones=st.just(UTC)))
def test_what_was_signed_is_what_is_opened(size: int, root: bytes, at: datetime) -> None:
    checkpoint = Checkpoint(ORIGIN, size, root, at)
    assert opened(signed(checkpoint, [OLD]), ONE) == checkpoint


@pytest.mark.parametrize("name", ["", "two words", "a+b", "line\nfeed", "no\u00a0break"])
def test_a_name_with_spaces_or_plus_signs_nothing(name: str) -> None:
    with pytest.raises(ValueError, match=r"name|checkpoint"):
        signed(Checkpoint(name, 1, b"x" * 32, AT), [a_signer(1, name)])


@pytest.mark.parametrize("text", ["no line feed", "an\n\nempty line\n", "a\ttab\n", "\x00\n"])
def test_a_text_that_no_note_can_hold_is_not_signed(text: str) -> None:
    with pytest.raises(ValueError, match="line feed"):
        sign_text(text, [OLD])


def test_a_note_without_a_signer_is_none() -> None:
    with pytest.raises(ValueError, match="signature"):
        signed(a_checkpoint(), [])


# -- what is refused ----------------------------------------


@settings(max_examples=400, deadline=None)
@given(st.data())
def test_no_character_of_a_note_can_be_changed(data: st.DataObject) -> None:
    """Whatever single character is changed, dropped or added, in text or signature: refused."""
    note = signed(a_checkpoint(), [OLD])
    place = data.draw(st.integers(0, len(note) - 1))
    character = data.draw(st.sampled_from("0123456789abcXYZ+/= \n\r\t—é"))
    kind = data.draw(st.sampled_from(["change", "drop", "add"]))
    rest = note[place:] if kind == "add" else note[place + 1 :]
    bad = note[:place] + ("" if kind == "drop" else character) + rest
    if bad != note:
        with pytest.raises(NotGenuine):
            opened(bad, ONE)


@pytest.mark.parametrize(
    "change",
    [
        ("\n50\n", "\n050\n"),
        ("\n50\n", "\n+50\n"),
        ("\n50\n", "\n५०\n"),
        ("\n50\n", "\n-50\n"),
        ("at 2026-11-25T20:56:06.000120Z", "at 2026-11-25T20:56:06Z"),
        ("at 2026-11-25T20:56:06.000120Z", "at 2026-13-25T20:56:06.000120Z"),
        ("at 2026-11-25T20:56:06.000120Z\n", ""),
        ("at 2026-11-25T20:56:06.000120Z\n", "at 2026-11-25T20:56:06.000120Z\nmore\n"),
        ("MjIyMjI", "MjIyMjI "),
    ],
)
def test_a_text_that_is_no_checkpoint_is_refused_even_with_a_good_signature(change: tuple[str, str]) -> None:
    """The one who holds the key writes checkpoints in one way only."""
    body = a_checkpoint().text()
    assert change[0] in body
    with pytest.raises(NotGenuine):
        opened(sign_text(body.replace(*change), [OLD]), ONE)


def test_a_root_of_another_length_is_refused() -> None:
    body = a_checkpoint().text().split("\n")
    body[2] = base64.b64encode(b"x" * 31).decode()
    with pytest.raises(NotGenuine, match="32 bytes"):
        opened(sign_text("\n".join(body), [OLD]), ONE)


def test_the_unused_last_bits_of_base64_are_zero() -> None:
    """Otherwise one signature could be written in four ways, and two files differ that say the same."""
    note = signed(a_checkpoint(), [OLD])
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
    last = note[-3]
    other = alphabet[alphabet.index(last) ^ 1]
    assert base64.b64decode(note[-9:-3] + last + "=") == base64.b64decode(note[-9:-3] + other + "=")
    with pytest.raises(NotGenuine):
        opened(note[:-3] + other + "=\n", ONE)


def test_a_signature_moved_to_another_checkpoint_is_refused() -> None:
    line = signed(a_checkpoint(50), [OLD]).split("\n\n")[1]
    with pytest.raises(NotGenuine, match="does not fit"):
        opened(a_checkpoint(51).text() + "\n" + line, ONE)


def test_another_ledger_s_checkpoint_is_refused() -> None:
    other = a_signer(1, "quay-street.example/ledger")
    with pytest.raises(NotGenuine, match="another ledger"):
        opened(signed(a_checkpoint(origin=other.name), [other]), ONE)


def test_a_stranger_s_signature_is_worth_nothing_and_spoils_nothing() -> None:
    with pytest.raises(NotGenuine, match="No key of the ring"):
        opened(signed(a_checkpoint(), [STRANGER]), ONE)
    assert opened(signed(a_checkpoint(), [STRANGER, OLD]), ONE) == a_checkpoint()


def test_a_known_key_s_bad_signature_spoils_the_note_whatever_else_is_signed() -> None:
    text, good = signed(a_checkpoint(110), [NEW]).split("\n\n")
    bad = signed(a_checkpoint(111), [OLD]).split("\n\n")[1]
    with pytest.raises(NotGenuine, match="does not fit"):
        opened(f"{text}\n\n{good}{bad}", BOTH)


@pytest.mark.parametrize(
    "text", ["", "\n", "\n\n", "words", "words\n\n", "words\n\nnot signed\n", "a\n\n— b !!!!\n", "a\n\n— b eA==\n"]
)
def test_what_is_no_note_is_refused(text: str) -> None:
    with pytest.raises(NotGenuine):
        opened(text, ONE)


def test_a_note_with_a_thousand_signatures_is_refused() -> None:
    note = signed(a_checkpoint(), [OLD])
    with pytest.raises(NotGenuine):
        opened(note + note.split("\n\n")[1] * 1000, ONE)


# -- the ring ----------------------------------------


@pytest.mark.parametrize(
    ("size", "signers", "taken"),
    [
        (0, [OLD], True),
        (99, [OLD], True),
        (120, [OLD], True),
        (121, [OLD], False),  # stolen after its closing: worth nothing
        (10**9, [OLD], False),
        (121, [OLD, NEW], True),
        (121, [NEW], True),
        (110, [OLD, NEW], True),
        (100, [NEW], True),
        (99, [NEW], False),  # it did not exist yet
    ],
)
def test_a_key_counts_for_its_own_sizes_only(size: int, signers: list[Signer], taken: bool) -> None:
    note = signed(a_checkpoint(size), signers)
    if taken:
        assert opened(note, HANDED_ON).size == size
    else:
        with pytest.raises(NotGenuine, match="not good for this size"):
            opened(note, HANDED_ON)


def test_the_ring_is_read_back_as_it_was_written() -> None:
    assert Ring.load(HANDED_ON.dump()) == HANDED_ON
    assert [key.last for key in HANDED_ON.keys] == [120, None]


def spoiled(**change: object) -> str:
    said = json.loads(HANDED_ON.dump())
    said["keys"][1 if "introduction" in change or "first" in change else 0] |= change
    return json.dumps(said)


@pytest.mark.parametrize(
    "change",
    [
        {"last": 10**9},
        {"last": None},
        {"last": True},
        {"closing": ""},
        {"closing": HANDED_ON.keys[1].introduction},
        {"public": base64.b64encode(STRANGER.public).decode()},
        {"public": "AAAA"},
        {"fingerprint": "0" * 64},
        {"first": 1},
        {"first": 100.0},
        {"introduction": ""},
        {"introduction": HANDED_ON.keys[0].closing},
    ],
    ids=str,
)
def test_a_ring_whose_links_do_not_hold_is_refused(change: dict[str, object]) -> None:
    with pytest.raises(NotGenuine):
        Ring.load(spoiled(**change))


@pytest.mark.parametrize("text", ["", "{}", "[]", "null", '{"format": 2}', '{"format": 1, "origin": "x", "keys": []}'])
def test_what_is_no_ring_is_refused(text: str) -> None:
    with pytest.raises(NotGenuine):
        Ring.load(text)


def test_a_key_cannot_be_brought_in_by_a_stranger() -> None:
    with pytest.raises(NotGenuine):
        ONE.introduce(STRANGER, NEW, size=100, at=AT)


def test_a_key_is_closed_by_a_later_one_only() -> None:
    """Otherwise whoever steals an old key could close its successor."""
    with pytest.raises(NotGenuine):
        BOTH.close(OLD.public, OLD, size=120, at=AT)
    with pytest.raises(NotGenuine):
        BOTH.close(NEW.public, OLD, size=120, at=AT)


def test_keys_in_another_order_are_refused() -> None:
    said = json.loads(HANDED_ON.dump())
    said["keys"].reverse()
    with pytest.raises(NotGenuine):
        Ring.load(json.dumps(said))
