"""Speaking to a witness: an address elsewhere that keeps the checkpoints it is sent and compares them.

A request is what the open C2SP tlog-witness protocol makes of it: `old <size>`, one base64 hash a line of the
consistency proof between what the witness has and what it is sent, an empty line, the signed note. (Our witness keeps
and compares; it does not sign.) The publisher asks `latest` first, since the proof begins where the witness stands:

    have = latest(address)                     # the note that the witness has, or "" where it has none yet
    post(address, note, Proof(old=…, path=…))  # path: between the size of `have` and the size of the note

Standard library only. Every failure is one of the errors below, with a sentence for people.
"""

from __future__ import annotations

import base64
import binascii
import http.client
import re
import urllib.error
import urllib.request
from collections.abc import Sequence
from dataclasses import dataclass

CHECKPOINT = "/checkpoint"
RING = "/ring"
PATIENCE = 10.0  # seconds for a connection, and for each piece of an answer
MOST_BYTES = 100_000
_HEAD = re.compile(r"old (0|[1-9][0-9]{0,18})")


class WitnessError(Exception):
    """The witness did not keep the checkpoint."""


class Unreachable(WitnessError):
    """It did not answer, or not as a witness does. To be tried again."""


class Elsewhere(WitnessError):
    """It stands at another size than the proof begins at. To be tried again from `size`."""

    def __init__(self, sentence: str, size: int) -> None:
        super().__init__(sentence)
        self.size = size


class Contradiction(WitnessError):
    """What it was sent does not go together with what it has. An alarm: one of the two ledgers is not what it was."""


class NotTaken(WitnessError):
    """It does not know the key, or the note or the ring is malformed. Somebody must look at the witness's key ring."""


@dataclass(frozen=True, slots=True)
class Proof:
    """The consistency path between the size that the witness has and the size of the note (empty where there is
    nothing to show: the witness has nothing yet, or the very same size)."""

    old: int = 0
    path: Sequence[bytes] = ()


def latest(address: str) -> str:
    """The note that the witness at this address has; empty where it has none yet."""
    status, body = _ask(address + CHECKPOINT)
    if status == 404:
        return ""
    if status != 200:
        raise Unreachable(f"{address} answered {status} when it was asked for its checkpoint.")
    return body


def post(address: str, note: str, proof: Proof = Proof()) -> None:
    """Give the witness a checkpoint to keep. Returns when it has; raises a WitnessError when it has not."""
    _judge(address, *_ask(address + CHECKPOINT, written(note, proof).encode()))


def send_ring(address: str, ring: str) -> None:
    """Give the witness a key ring that goes on from the one that it has (a new key, a closing)."""
    _judge(address, *_ask(address + RING, ring.encode()))


def written(note: str, proof: Proof) -> str:
    """A request as it goes over the wire."""
    hashes = "".join(f"{base64.b64encode(one).decode()}\n" for one in proof.path)
    return f"old {proof.old}\n{hashes}\n{note}"


def read(request: str) -> tuple[str, Proof]:
    """The note and the proof of a request; ValueError where it is none."""
    head, gap, note = request.partition("\n\n")
    first, *hashes = head.split("\n")
    found = _HEAD.fullmatch(first)
    if not gap or found is None or len(hashes) > 64:
        raise ValueError("a request is 'old SIZE', the hashes of the proof, an empty line, and the signed note")
    try:
        path = [base64.b64decode(one, validate=True) for one in hashes]
    except binascii.Error as error:
        raise ValueError(f"a hash of the proof is no base64: {error}") from error
    return note, Proof(int(found[1]), path)


def _judge(address: str, status: int, body: str) -> None:
    """Make the answer's status what it means."""
    sentence = body.strip().split("\n")[0][:400] or "no reason was given"
    if status == 409 and body.split("\n")[-1].isdecimal():
        raise Elsewhere(f"{address}: {sentence}", int(body.split("\n")[-1]))
    if status == 422:
        raise Contradiction(f"{address}: {sentence}")
    if status in (400, 403, 404, 413):
        raise NotTaken(f"{address}: {sentence}")
    if status != 200:
        raise Unreachable(f"{address} answered {status}: {sentence}")


def _ask(url: str, data: bytes | None = None) -> tuple[int, str]:
    """The status and the text of an answer, whatever the status; Unreachable where there is none."""
    if not url.startswith(("http://", "https://")):
        raise Unreachable(f"{url} is not an address of the web: it must begin with http:// or https://.")
    headers = {"Content-Type": "text/plain; charset=utf-8"} if data is not None else {}
    request = urllib.request.Request(url, data=data, headers=headers)  # noqa: S310 - the scheme was looked at
    try:
        with opener.open(request, timeout=PATIENCE) as answer:
            return answer.status, _text(answer.read(MOST_BYTES))
    except urllib.error.HTTPError as error:
        with error:
            return error.code, _text(error.read(MOST_BYTES))
    except (OSError, http.client.HTTPException, ValueError) as error:
        reason = getattr(error, "reason", error)
        raise Unreachable(f"{url} did not answer: {reason}.") from error


def _text(body: bytes) -> str:
    return body.decode(errors="replace")


class _Nowhere(urllib.request.HTTPRedirectHandler):
    """Whoever is asked sends us nowhere else: a redirection is an answer like any other."""

    def redirect_request(self, *_: object) -> None:
        return None


opener = urllib.request.build_opener(_Nowhere)
