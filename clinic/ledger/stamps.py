"""Time stamps of an authority after RFC 3161, where one is configured: a third party says that a checkpoint existed.

What is stamped is the signed note, byte for byte. The answer is looked at before it is kept, and again by whoever reads
it: `openssl ts -verify -data latest.note -in N.tsr -CAfile roots.pem` says the same.
"""

from __future__ import annotations

import http.client
import urllib.request
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from cryptography.x509 import Certificate, load_pem_x509_certificates
from rfc3161_client import (
    HashAlgorithm,
    TimestampRequestBuilder,
    TimeStampResponse,
    VerificationError,
    VerifierBuilder,
    decode_timestamp_response,
)

from clinic.ledger.witness import opener

PATIENCE = 15.0  # seconds
MOST_BYTES = 200_000


class NotStamped(Exception):
    """There is no good time stamp; the message says why, in a sentence."""


class NoAnswer(NotStamped):
    """The authority did not answer. To be tried again."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """An answer of the authority that was verified, and the instant that it states."""

    answer: bytes
    at: datetime


def stamped(address: str, data: bytes, roots: bytes) -> Stamp:
    """Ask the authority at this address for a stamp on these bytes, and verify its answer.

    `roots`: the certificates (PEM) that are trusted to vouch for the authority; got from it beforehand, by hand.
    """
    request = TimestampRequestBuilder().data(data).hash_algorithm(HashAlgorithm.SHA256).nonce(nonce=True).build()
    answer = _ask(address, request.as_bytes())
    return Stamp(answer, verified(answer, data, roots, nonce=request.nonce))


def verified(answer: bytes, data: bytes, roots: bytes, *, nonce: int | None = None) -> datetime:
    """The instant at which the authority says that these bytes existed; NotStamped where the answer does not hold.

    `nonce`: the one of the request, where it is still known; it shows that the answer is not an older one.
    """
    try:
        response = decode_timestamp_response(answer)
        verifier = VerifierBuilder(roots=_certificates(roots), nonce=nonce).build()
        verifier.verify_message(response, data)
    except (ValueError, VerificationError) as error:
        raise NotStamped(f"The time stamp does not hold: {_reason(error)}.") from error
    return _instant(response)


def keep(folder: Path, size: int, stamp: Stamp) -> Path:
    """Write the answer down under the size of its checkpoint."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{size:020d}.tsr"
    partial = path.with_suffix(".new")
    partial.write_bytes(stamp.answer)
    partial.replace(path)
    return path


def kept(folder: Path, size: int) -> bytes | None:
    """The answer kept for the checkpoint of this size, unverified; nothing where there is none."""
    path = folder / f"{size:020d}.tsr"
    return path.read_bytes() if path.exists() else None


def sizes(folder: Path) -> list[int]:
    """The sizes of the checkpoints that have a stamp, smallest first."""
    return sorted(int(path.stem) for path in folder.glob("*.tsr"))


def _certificates(roots: bytes) -> list[Certificate]:
    return load_pem_x509_certificates(roots)


def _instant(response: TimeStampResponse) -> datetime:
    said = response.tst_info.gen_time
    return said if said.tzinfo is not None else said.replace(tzinfo=UTC)


def _reason(error: Exception) -> str:
    return " ".join(str(error).split()).rstrip(".") or type(error).__name__


def _ask(address: str, request: bytes) -> bytes:
    if not address.startswith(("http://", "https://")):
        raise NoAnswer(f"{address} is not an address of the web: it must begin with http:// or https://.")
    headers = {"Content-Type": "application/timestamp-query", "Accept": "application/timestamp-reply"}
    asked = urllib.request.Request(address, data=request, headers=headers)  # noqa: S310 - the scheme was looked at
    try:
        with opener.open(asked, timeout=PATIENCE) as answer:
            return bytes(answer.read(MOST_BYTES))
    except (OSError, http.client.HTTPException, ValueError) as error:
        raise NoAnswer(f"The authority at {address} did not answer: {getattr(error, 'reason', error)}.") from error
