"""RFC 3161 time stamps against an authority made with `openssl ts`, which is asked for its opinion each time."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from clinic.ledger.stamps import NoAnswer, NotStamped, Stamp, keep, kept, sizes, stamped, verified
from tests.ledger.authority import Authority

NOTE = "alder-reach.example/ledger\n8\nXdyd2nkH…\n".encode()


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return Authority(tmp_path_factory.mktemp("authority"))


@contextmanager
def serving(authority: Authority, replayed: bytes | None = None, status: int = 200) -> Iterator[str]:
    """The authority behind HTTP; `replayed`: it gives this answer to every request."""

    class Door(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            request = self.rfile.read(int(self.headers["Content-Length"]))
            assert self.headers["Content-Type"] == "application/timestamp-query"
            self.send_response(status)
            self.end_headers()
            self.wfile.write(authority.answer(request) if replayed is None else replayed)

        def log_message(self, *_: object) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Door) as running:
        thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            yield f"http://127.0.0.1:{running.server_address[1]}/"
        finally:
            running.shutdown()
            thread.join()


@pytest.fixture(scope="module")
def stamp(authority: Authority) -> Stamp:
    with serving(authority) as address:
        return stamped(address, NOTE, authority.roots)


def test_a_stamp_is_got_verified_and_states_the_time(authority: Authority, stamp: Stamp) -> None:
    assert abs(datetime.now(UTC) - stamp.at) < timedelta(minutes=5)
    assert verified(stamp.answer, NOTE, authority.roots) == stamp.at
    assert authority.agrees(stamp.answer, NOTE)


def test_a_changed_message_is_refused(authority: Authority, stamp: Stamp) -> None:
    with pytest.raises(NotStamped, match="does not hold"):
        verified(stamp.answer, NOTE + b"x", authority.roots)
    assert not authority.agrees(stamp.answer, NOTE + b"x")


def test_another_nonce_is_refused(authority: Authority, stamp: Stamp) -> None:
    with pytest.raises(NotStamped, match=r"[Nn]once"):
        verified(stamp.answer, NOTE, authority.roots, nonce=12345)


def test_an_old_answer_to_a_new_request_is_refused(authority: Authority, stamp: Stamp) -> None:
    with serving(authority, replayed=stamp.answer) as address, pytest.raises(NotStamped, match=r"[Nn]once"):
        stamped(address, NOTE, authority.roots)


def test_a_flipped_bit_anywhere_that_counts_is_refused(authority: Authority, stamp: Stamp) -> None:
    """Every 20th byte: whatever this reader takes, openssl must take as well, and nothing may state another time."""
    refused = 0
    for place in range(0, len(stamp.answer), 20):
        spoiled = bytearray(stamp.answer)
        spoiled[place] ^= 1
        try:
            at = verified(bytes(spoiled), NOTE, authority.roots)
        except NotStamped:
            refused += 1
        else:
            assert at == stamp.at
            assert authority.agrees(bytes(spoiled), NOTE), place
    assert refused > 0.8 * (len(stamp.answer) // 20)


def test_another_authority_s_roots_vouch_for_nothing(authority: Authority, stamp: Stamp, tmp_path: Path) -> None:
    other = Authority(tmp_path / "other", "Quay Street test authority")
    with pytest.raises(NotStamped):
        verified(stamp.answer, NOTE, other.roots)
    assert not other.agrees(stamp.answer, NOTE)


@pytest.mark.parametrize("answer", [b"", b"words", b"\x30\x03\x02\x01\x02"])
def test_what_is_no_answer_is_refused(authority: Authority, answer: bytes) -> None:
    with pytest.raises(NotStamped):
        verified(answer, NOTE, authority.roots)


@pytest.mark.parametrize("roots", [b"", b"words"])
def test_without_roots_nothing_is_taken(stamp: Stamp, roots: bytes) -> None:
    with pytest.raises(NotStamped):
        verified(stamp.answer, NOTE, roots)


def test_an_authority_that_does_not_answer_is_said_so(authority: Authority) -> None:
    with serving(authority, replayed=b"", status=503) as address, pytest.raises(NoAnswer, match=r"503|Service"):
        stamped(address, NOTE, authority.roots)
    with pytest.raises(NoAnswer, match="did not answer"):
        stamped(address, NOTE, authority.roots)
    with pytest.raises(NoAnswer, match="http"):
        stamped("file:///etc/passwd", NOTE, authority.roots)


def test_an_authority_that_sends_elsewhere_is_not_followed(authority: Authority) -> None:
    came: list[str] = []

    class Sends(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            self.rfile.read(int(self.headers["Content-Length"]))
            self.send_response(302)
            self.send_header("Location", "/secret")
            self.end_headers()

        def do_GET(self) -> None:
            came.append(self.path)
            self.send_error(404)

        def log_message(self, *_: object) -> None:
            pass

    with HTTPServer(("127.0.0.1", 0), Sends) as running:
        thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        with pytest.raises(NoAnswer, match="did not answer: Found"):
            stamped(f"http://127.0.0.1:{running.server_address[1]}/", NOTE, authority.roots)
        running.shutdown()
        thread.join()
    assert came == []


def test_a_stamp_is_kept_under_the_size_of_its_checkpoint(tmp_path: Path, stamp: Stamp) -> None:
    assert kept(tmp_path / "stamps", 8) is None
    path = keep(tmp_path / "stamps", 8, stamp)
    assert path.name == "00000000000000000008.tsr"
    assert kept(tmp_path / "stamps", 8) == stamp.answer
    keep(tmp_path / "stamps", 3, stamp)
    assert sizes(tmp_path / "stamps") == [3, 8]
    assert sizes(tmp_path / "nowhere") == []
