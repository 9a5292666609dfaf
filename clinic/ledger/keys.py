"""The ledger's keys, in files that the database never sees.

    LEDGER_KEYS/ring.json       the public keys, each introduced by the one before it (ring.py): hand it out freely
    LEDGER_KEYS/mac/N.key       keys of the MAC that every written row bears: whoever writes needs the newest
    LEDGER_KEYS/seal/N.key      Ed25519 keys that sign checkpoints: only whoever seals needs them
    LEDGER_KEYS/sealing/N.key   P-256 keys for which tablets seal what they could not send (sealing.py)

The folders are closed to everybody but their owner. Web processes need `mac/` and `sealing/`. Rotation overlaps:
`rotate` adds a key of each kind and the old ones go on counting; `close` ends them (rotation.py). A key that is closed
is called N.closed and counts for nothing new; a closed seal key is destroyed, since the ring keeps its public half.

Processes notice a changed folder by themselves, within a second.
"""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ec import SECP256R1, generate_private_key
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

from clinic.clock import ticks
from clinic.ledger.note import Signer
from clinic.ledger.ring import Ring, new_ring

MAC_BYTES = 32
BACKUPS = b"clinic: manifest of a backup"
NO_SEALING = (
    "There is no key for tablets to seal for (the keys are older than that): what a tablet could not send is lost when "
    "its user signs out. Run `manage.py ledger_keys rotate` once; it adds one."
)
LOOK_AGAIN = 1.0  # seconds
MAKE = "make them once with `manage.py ledger_keys make`, keep a copy apart from the database, and set LEDGER_KEYS"


class NoKeys(Exception):
    """The keys are not where they should be; the message says what to do."""


@dataclass(slots=True)
class _Known:
    """MAC keys as they were read last, from the folder of the setting. `looked`: by the clock that never goes back."""

    setting: str
    state: int
    looked: float
    keys: tuple[bytes, ...]


_known: _Known | None = None


def folder() -> Path:
    """Where the keys lie."""
    return Path(settings.LEDGER_KEYS)


def mac_key() -> bytes:
    """The key that rows are written with now: the newest."""
    return mac_keys()[0]


def mac_keys() -> tuple[bytes, ...]:
    """All MAC keys that count, newest first; during a rotation there are two. None: NoKeys."""
    global _known
    setting, now = settings.LEDGER_KEYS, ticks()
    if _known is not None and _known.setting == setting and now - _known.looked < LOOK_AGAIN:
        return _known.keys
    place = folder() / "mac"
    state = _state(place)
    if _known is None or _known.setting != setting or _known.state != state:
        _known = _Known(setting, state, now, tuple(bytes.fromhex(text) for text in _texts(place, "MAC keys")))
    _known.looked = now
    return _known.keys


def backup_keys() -> tuple[bytes, ...]:
    """Keys that mark the manifests of backups, newest first: each derived from a MAC key (HKDF, RFC 5869), so that a
    mark of one kind is never one of the other, and whoever has put back the MAC keys has these. None: NoKeys."""
    return tuple(HKDF(SHA256(), MAC_BYTES, salt=None, info=BACKUPS).derive(key) for key in mac_keys())


def closed_mac_keys() -> tuple[bytes, ...]:
    """MAC keys that were ended: good for knowing rows that they stamped before, and for nothing new."""
    files = sorted((folder() / "mac").glob("*.closed"), reverse=True)
    return tuple(bytes.fromhex(path.read_text(encoding="ascii").strip()) for path in files)


def forget() -> None:
    """Read the files again at the next use."""
    global _known
    _known = None


def signers(ring: Ring) -> list[Signer]:
    """The private halves of the ring's open keys, oldest first. One that is missing, or that the ring does not know:
    NoKeys."""
    private = [
        Ed25519PrivateKey.from_private_bytes(bytes.fromhex(text)) for text in _texts(folder() / "seal", "seal keys")
    ]
    found = {signer.public: signer for signer in (Signer(ring.origin, key) for key in private)}
    wanted = [key.public for key in ring.keys if key.last is None]
    if found.keys() != set(wanted):
        raise NoKeys(
            f"The seal keys in {folder()} are not those that are open in its ring.json: put back the right ones."
        )
    return [found[public] for public in wanted]


def ring() -> Ring:
    """The public keys. Their links are checked; a file that does not hold: NotGenuine, none at all: NoKeys."""
    try:
        text = (folder() / "ring.json").read_text(encoding="utf-8")
    except FileNotFoundError:
        raise NoKeys(f"The ledger's public keys are not in {folder()}: {MAKE}.") from None
    return Ring.load(text)


def make(place: Path, origin: str) -> Ring:
    """The first key of each kind, in a folder without any. Where there are some already: FileExistsError."""
    for name in ("mac", "seal"):
        _folder(place / name)
    place.chmod(0o700)
    if (place / "ring.json").exists() or [*place.glob("mac/*.key"), *place.glob("seal/*.key")]:
        raise FileExistsError(f"{place} holds keys already.")
    add_mac(place)
    add_sealing(place)
    signer = Signer(origin, add_seal(place))
    made = new_ring(signer)
    write_ring(place, made)
    return made


def made_in(place: Path, origin: str) -> Path:
    """The folder itself, with keys in it: for the demo, the tests and the embedded database, which make their own."""
    if not (place / "ring.json").exists():
        make(place, origin)
    elif not key_files(place, "sealing"):
        add_sealing(place)  # the folder is older than tablets that seal
    return place


def add_mac(place: Path) -> None:
    """One more MAC key."""
    _write(place / "mac" / f"{_next(place / 'mac')}.key", secrets.token_bytes(MAC_BYTES).hex() + "\n")


def add_seal(place: Path) -> Ed25519PrivateKey:
    """One more seal key; it counts for nothing until the ring names it."""
    private = Ed25519PrivateKey.generate()
    _write(place / "seal" / f"{_next(place / 'seal')}.key", private.private_bytes_raw().hex() + "\n")
    return private


def add_sealing(place: Path) -> None:
    """One more key to seal for. A folder of keys that is older than this kind gets its folder."""
    _folder(place / "sealing")
    number = generate_private_key(SECP256R1()).private_numbers().private_value
    _write(place / "sealing" / f"{_next(place / 'sealing')}.key", f"{number:064x}\n")


def write_ring(place: Path, ring: Ring) -> None:
    """Put the public keys in the place of those before, all at once."""
    partial = place / "ring.new"
    partial.write_text(ring.dump(), encoding="utf-8")
    partial.chmod(0o644)
    partial.replace(place / "ring.json")


def end_oldest(place: Path) -> None:
    """The oldest keys count no more: the MAC key is kept under another name, the seal key destroyed. The key to seal
    for still opens what tablets have sealed, until the next one is ended."""
    mac, seal = key_files(place, "mac")[-1], key_files(place, "seal")[-1]
    mac.replace(mac.with_suffix(".closed"))
    _destroy(seal)
    if len(sealing := key_files(place, "sealing")) > 1:
        for older in (place / "sealing").glob("*.closed"):
            _destroy(older)
        sealing[-1].replace(sealing[-1].with_suffix(".closed"))
    forget()


def key_files(place: Path, name: str) -> list[Path]:
    """The files of the open keys of a kind, newest first."""
    return sorted((place / name).glob("*.key"), key=lambda path: int(path.stem), reverse=True)


def _folder(place: Path) -> None:
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    place.chmod(0o700)


def _destroy(path: Path) -> None:
    path.write_text("0" * 64, encoding="ascii")
    path.unlink()


def _texts(place: Path, what: str) -> list[str]:
    files = key_files(place.parent, place.name)
    if not files:
        raise NoKeys(f"The ledger's {what} are not in {place}: {MAKE}.")
    return [path.read_text(encoding="ascii").strip() for path in files]


def _state(place: Path) -> int:
    try:
        return place.stat().st_mtime_ns
    except FileNotFoundError:
        return 0


def _next(place: Path) -> int:
    return 1 + max((int(path.stem) for path in place.iterdir()), default=0)


def _write(path: Path, text: str) -> None:
    """A new file that nobody else can read, whole or not at all."""
    partial = path.with_suffix(".new")
    with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="ascii") as file:
        file.write(text)
    partial.replace(path)
