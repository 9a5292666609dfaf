"""verify.py as a command: reads a bundle, from a zip file or a folder, and says what was found."""

from __future__ import annotations

import argparse
import sys
import zipfile
from pathlib import Path

from checklists.proof.offline.check import checked, verdict
from checklists.proof.offline.notes import Wrong

MOST_BYTES = 300_000_000
MARKS = {"holds": "ok  ", "fails": "NO  ", "open": "?   ", "note": "    "}


def files_of(place: Path, beside: Path | None = None) -> dict[str, bytes]:
    """The files of a bundle by name, from a zip file or a folder; Wrong where it is neither. `beside`: lies in the
    folder, perhaps, but is no part of the bundle."""
    if place.is_dir():
        found = [path for path in place.rglob("*") if path.is_file() and not path.name.startswith(".")]
        found = [path for path in found if beside is None or not path.samefile(beside)]
        return {path.relative_to(place).as_posix(): path.read_bytes() for path in found}
    try:
        with zipfile.ZipFile(place) as bundle:
            parts = [part for part in bundle.infolist() if not part.is_dir()]
            if len({part.filename for part in parts}) != len(parts):
                raise Wrong("The bundle holds two files of one name.")
            if sum(part.file_size for part in parts) > MOST_BYTES:
                raise Wrong("The bundle is larger than a bundle is.")
            return {part.filename: bundle.read(part) for part in parts}
    except (OSError, zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError):
        raise Wrong(f"{place} cannot be read as a bundle.") from None


def main(arguments: list[str] | None = None) -> int:
    """Check a bundle and print what was found; 0 where everything holds."""
    parser = argparse.ArgumentParser(description="Check a proof bundle.")
    parser.add_argument("bundle", nargs="?", type=Path, default=Path(sys.argv[0]).parent, help="zip file or folder")
    parser.add_argument("--key", default="", metavar="FINGERPRINT", help="of a signing key, got from elsewhere")
    parser.add_argument("--checkpoint", type=Path, metavar="FILE", help="a checkpoint that somebody else kept")
    asked = parser.parse_args(arguments)
    try:
        outside = asked.checkpoint.read_text(encoding="utf-8") if asked.checkpoint else ""
        lines = checked(files_of(asked.bundle, asked.checkpoint), asked.key, outside)
    except Wrong as wrong:
        lines = [("fails", str(wrong))]
    except (OSError, UnicodeDecodeError):
        lines = [("fails", f"{asked.checkpoint} cannot be read.")]
    holds, sentence = verdict(lines)
    sys.stdout.write("".join(f"{MARKS[status]}{text}\n" for status, text in lines) + f"\n{sentence}\n")
    return 0 if holds else 1


if __name__ == "__main__":
    sys.exit(main())
