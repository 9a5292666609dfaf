"""A witness over real HTTP: what it keeps, what it refuses, and what its client says when something is wrong."""

from __future__ import annotations

import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from clinic.ledger import witness
from clinic.ledger.merkle import consistency_path, leaf_hash, nodes_of, root
from clinic.ledger.note import Checkpoint, NotGenuine, Signer, signed
from clinic.ledger.ring import Ring, new_ring
from clinic.ledger.witness import Contradiction, Elsewhere, NotTaken, Proof, Unreachable, latest, post, send_ring
from clinic.ledger.witness_keep import Keep
from clinic.ledger.witness_server import MOST_AT_ONCE, server

ORIGIN = "alder-reach.example/ledger"
AT = datetime(2026, 11, 25, 20, 56, 6, tzinfo=UTC)
ROOT = Path(__file__).resolve().parents[2]


def a_signer(number: int) -> Signer:
    return Signer(ORIGIN, Ed25519PrivateKey.from_private_bytes(bytes([number]) * 32))


OLD, NEW, STRANGER = a_signer(1), a_signer(2), a_signer(9)
RING = new_ring(OLD)
TRUE = [leaf_hash(b"%d" % number) for number in range(40)]
FORGED = [*TRUE[:5], leaf_hash(b"another"), *TRUE[6:]]


def a_note(size: int, leaves: list[bytes] = TRUE, *signers: Signer) -> str:
    at = AT + timedelta(seconds=size)
    return signed(Checkpoint(ORIGIN, size, root(leaves[:size]), at), signers or (OLD,))


def a_proof(old: int, size: int, leaves: list[bytes] = TRUE) -> Proof:
    small, large = sorted((old, size))
    return Proof(old, consistency_path(small, large, nodes_of(leaves)) if small else [])


@contextmanager
def serving(folder: Path, ring: Ring = RING) -> Iterator[str]:
    with server(Keep.at(folder, ring), "127.0.0.1", 0) as running:
        thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        try:
            yield f"http://127.0.0.1:{running.server_address[1]}"
        finally:
            running.shutdown()
            thread.join()


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    with serving(tmp_path) as address:
        yield address


def refused(folder: Path) -> list[str]:
    return sorted(path.name for path in (folder / "refused").iterdir())


def test_it_keeps_what_goes_on_and_answers_with_its_latest(address: str, tmp_path: Path) -> None:
    assert latest(address) == ""
    post(address, a_note(3))
    assert latest(address) == a_note(3)
    for old, size in ((3, 8), (8, 9), (9, 40)):
        post(address, a_note(size), a_proof(old, size))
        assert latest(address) == a_note(size)
    kept = sorted(path.name for path in (tmp_path / "checkpoints").iterdir())
    assert kept == [f"{size:020d}.note" for size in (3, 8, 9, 40)]
    assert refused(tmp_path) == []


def test_what_was_sent_twice_is_kept_once(address: str, tmp_path: Path) -> None:
    post(address, a_note(3))
    post(address, a_note(3), Proof(3))
    assert len(list((tmp_path / "checkpoints").iterdir())) == 1


def test_two_roots_of_one_size_are_a_contradiction_that_is_kept(address: str, tmp_path: Path) -> None:
    post(address, a_note(8))
    for _ in range(2):
        with pytest.raises(Contradiction, match="Two roots"):
            post(address, a_note(8, FORGED), Proof(8))
    assert latest(address) == a_note(8)
    assert refused(tmp_path) == ["0001-other-root.note"]
    assert (tmp_path / "refused" / "0001-other-root.note").read_text() == a_note(8, FORGED)


def test_a_history_written_anew_is_a_contradiction(address: str, tmp_path: Path) -> None:
    """The best that a forger can do: proofs from the forged tree."""
    post(address, a_note(8))
    with pytest.raises(Contradiction, match="not shown"):
        post(address, a_note(12, FORGED), a_proof(8, 12, FORGED))
    assert latest(address) == a_note(8)
    assert refused(tmp_path) == ["0001-no-continuation.note"]


def test_a_genuine_checkpoint_sent_again_with_a_false_proof_takes_no_room_among_the_evidence(
    address: str, tmp_path: Path
) -> None:
    """Anybody may ask for the latest, and send it back later."""
    post(address, a_note(3))
    post(address, a_note(8), a_proof(3, 8))
    with pytest.raises(Contradiction):
        post(address, a_note(3), Proof(8, [bytes(32)]))
    assert refused(tmp_path) == []


def test_a_ledger_rolled_back_and_grown_again_is_a_contradiction(address: str) -> None:
    post(address, a_note(20))
    regrown = [*TRUE[:10], *(leaf_hash(b"later %d" % number) for number in range(30))]
    with pytest.raises(Contradiction):
        post(address, a_note(12, regrown), Proof(20))
    with pytest.raises(Contradiction):
        post(address, a_note(30, regrown), a_proof(20, 30, regrown))


def test_an_older_checkpoint_that_is_shown_to_be_a_beginning_is_kept_as_such(address: str, tmp_path: Path) -> None:
    post(address, a_note(20))
    post(address, a_note(12), a_proof(20, 12))
    assert latest(address) == a_note(20)
    assert (tmp_path / "checkpoints" / f"{12:020d}.note").exists()


def test_a_proof_from_elsewhere_is_told_where_the_witness_stands(address: str) -> None:
    post(address, a_note(8))
    with pytest.raises(Elsewhere) as caught:
        post(address, a_note(12), a_proof(5, 12))
    assert caught.value.size == 8
    post(address, a_note(12), a_proof(caught.value.size, 12))


def test_an_empty_ledger_may_be_the_first_that_is_seen(address: str) -> None:
    post(address, a_note(0))
    post(address, a_note(5), Proof(0))
    assert latest(address) == a_note(5)


@pytest.mark.parametrize("note", [a_note(8, TRUE, STRANGER), a_note(8).replace("\n8\n", "\n9\n"), "words", ""])
def test_what_no_known_key_signed_is_not_taken_and_not_kept(address: str, tmp_path: Path, note: str) -> None:
    with pytest.raises(NotTaken):
        post(address, note)
    assert latest(address) == ""
    assert refused(tmp_path) == []


def test_a_stolen_old_key_is_refused_and_its_note_kept(tmp_path: Path) -> None:
    ring = RING.introduce(OLD, NEW, size=10, at=AT).close(OLD.public, NEW, size=12, at=AT)
    with serving(tmp_path, ring) as address:
        post(address, a_note(12, TRUE, OLD, NEW))
        with pytest.raises(NotTaken, match="worth nothing"):
            post(address, a_note(30, TRUE, OLD), a_proof(12, 30))
        assert refused(tmp_path) == ["0001-closed-key.note"]
        post(address, a_note(30, TRUE, NEW), a_proof(12, 30))


def test_a_new_key_is_taken_with_the_ring_that_brings_it_in(address: str) -> None:
    post(address, a_note(8))
    ring = RING.introduce(OLD, NEW, size=9, at=AT)
    with pytest.raises(NotTaken, match="No key of the ring"):
        post(address, a_note(12, TRUE, NEW), a_proof(8, 12))
    send_ring(address, ring.dump())
    post(address, a_note(12, TRUE, NEW), a_proof(8, 12))
    send_ring(address, ring.close(OLD.public, NEW, size=12, at=AT).dump())
    with pytest.raises(NotTaken, match="worth nothing"):
        post(address, a_note(20, TRUE, OLD), a_proof(12, 20))
    with pytest.raises(Contradiction, match="go on"):
        send_ring(address, ring.dump())  # without the closing


def test_a_ring_of_another_key_is_not_taken(address: str) -> None:
    with pytest.raises(Contradiction, match="go on"):
        send_ring(address, new_ring(STRANGER).dump())
    with pytest.raises(NotTaken):
        send_ring(address, "words")


def test_what_is_no_request_is_not_taken(address: str) -> None:
    for path, body in (
        ("/checkpoint", b"old x\n\n"),
        ("/checkpoint", b"\xff"),
        ("/checkpoint", b"old 1\n!\n\nx"),
        ("/x", b""),
    ):
        status, _ = witness._ask(address + path, body)
        assert status == (404 if path == "/x" else 400)
    assert witness._ask(address + "/checkpoint", b"x" * 200_000)[0] == 413
    assert witness._ask(address + "/anything")[0] == 404


def test_a_witness_started_again_stands_where_it_stood(tmp_path: Path) -> None:
    with serving(tmp_path) as address:
        post(address, a_note(8))
    with serving(tmp_path) as address:
        assert latest(address) == a_note(8)
        with pytest.raises(Contradiction):
            post(address, a_note(8, FORGED), Proof(8))


def test_a_witness_is_not_started_with_another_ledger_s_keys(tmp_path: Path) -> None:
    ring = RING.introduce(OLD, NEW, size=9, at=AT)
    Keep.at(tmp_path, ring)
    assert Keep.at(tmp_path, RING).ring == ring  # it knows more than the ring given
    with pytest.raises(NotGenuine, match="does not go on"):
        Keep.at(tmp_path, new_ring(STRANGER))


def test_a_witness_whose_own_file_was_changed_does_not_start(tmp_path: Path) -> None:
    with serving(tmp_path) as address:
        post(address, a_note(8))
    (tmp_path / "latest.note").write_text(a_note(8).replace("\n8\n", "\n9\n"))
    with pytest.raises(NotGenuine):
        Keep.at(tmp_path, RING)


def test_an_address_where_nobody_listens_is_said_to_be_unreachable() -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with pytest.raises(Unreachable, match="did not answer"):
        latest(f"http://127.0.0.1:{port}")
    with pytest.raises(Unreachable, match="http"):
        post("file:///etc/passwd", a_note(8))


def test_beyond_so_many_requests_at_once_it_says_try_again_and_then_goes_on(address: str) -> None:
    where = ("127.0.0.1", int(address.rsplit(":", 1)[1]))
    silent = [socket.create_connection(where, timeout=5) for _ in range(MOST_AT_ONCE)]  # each holds a thread
    with socket.create_connection(where, timeout=5) as one_more:
        assert one_more.recv(1000).startswith(b"HTTP/1.0 503 ")
    for connection in silent:
        connection.close()
    for _ in range(200):  # the threads see it in their own time
        try:
            assert latest(address) == ""
            return
        except Unreachable:
            time.sleep(0.02)
    pytest.fail("it never had room again")


def test_a_signal_that_comes_while_a_thread_begins_ends_the_server(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SIGTERM is a SystemExit wherever the process stands (clinic/run/door.py): here after the thread was begun."""
    begin = threading.Thread.start

    def begin_and_be_told(thread: threading.Thread) -> None:
        begin(thread)
        thread.join()  # the request is done, and its room free again
        raise SystemExit(143)

    with (
        server(Keep.at(tmp_path, RING), "127.0.0.1", 0) as running,
        socket.create_connection(("127.0.0.1", running.server_port), timeout=5) as caller,
    ):
        caller.sendall(b"GET /checkpoint HTTP/1.0\r\n\r\n")
        monkeypatch.setattr(threading.Thread, "start", begin_and_be_told)
        with pytest.raises(SystemExit):
            running.handle_request()


class _Elsewhere(BaseHTTPRequestHandler):
    """Not a witness: it sends everybody to another address, or answers with what no witness says."""

    def do_GET(self) -> None:
        self.send_response(302)
        self.send_header("Location", "http://127.0.0.1:9/secret")
        self.end_headers()

    def do_POST(self) -> None:
        self.send_response(500)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


def test_what_is_no_witness_is_said_to_be_unreachable_and_leads_nowhere() -> None:
    with HTTPServer(("127.0.0.1", 0), _Elsewhere) as running:
        thread = threading.Thread(target=running.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        address = f"http://127.0.0.1:{running.server_address[1]}"
        with pytest.raises(Unreachable, match="302"):
            latest(address)
        with pytest.raises(Unreachable, match="500"):
            post(address, a_note(8))
        running.shutdown()
        thread.join()


def test_the_command_serves_a_folder_and_says_where(tmp_path: Path) -> None:
    (tmp_path / "ring.json").write_text(RING.dump())
    command = [sys.executable, "manage.py", "witness", "--port", "0", "--folder", str(tmp_path / "kept")]
    command += ["--key", str(tmp_path / "ring.json")]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            said = process.stdout.readline()
            address = said.split(" at ")[1].split(",")[0]
            post(address, a_note(8))
            assert latest(address) == a_note(8)
        finally:
            process.terminate()
    assert (tmp_path / "kept" / "latest.note").read_text() == a_note(8)


def test_the_command_says_in_one_sentence_that_a_ring_is_none(tmp_path: Path) -> None:
    (tmp_path / "ring.json").write_text("words")
    command = [sys.executable, "manage.py", "witness", "--port", "0", "--folder", str(tmp_path / "kept")]
    command += ["--key", str(tmp_path / "ring.json")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == 1
    assert "This is no key ring" in done.stderr
    assert "Traceback" not in done.stderr
