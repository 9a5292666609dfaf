"""Each sign-off stands with what was signed: the statement, the evidence shown, and the protocol."""

from __future__ import annotations

from checklists.proof.offline.notes import Said, Wrong, read_json
from checklists.proof.offline.rows import Rows
from checklists.proof.offline.tree import sha

UNSAID: dict[str, object] = {"deviations": [], "measures": {}}
"""What the fields of an attempt mean that were left out."""


class Signatures:
    """The sign-offs among the entries of a bundle."""

    def __init__(self, bundle: Said, files: dict[str, bytes], rows: Rows, lines: list[tuple[str, str]]) -> None:
        self.bundle, self.files, self.rows, self.lines = bundle, files, rows, lines

    def check(self) -> None:
        """Every sign-off; then what took one back."""
        for one in self.bundle["entries"]:
            row = read_json(one["row"])
            said, signed = self.rows.contents.get(row["id"]), one["signed"]
            if said is not None and row["kind"] == "sign_off":
                self._signature(said, signed)
            elif signed is not None:
                raise Wrong(f"A signature hangs on entry {row['id']}, which is no sign-off.")
        for entry, said in self.rows.contents.items():
            if said["kind"] == "sign_off_withdrawn":
                sentence = f"A sign-off of '{said['skill']}' was withdrawn at {said['at']} (entry {entry})."
                self.lines.append(("note", sentence))
            if said["kind"] == "struck_out":
                self.lines.append(("note", f"Entry {said['entry']} was struck out at {said['at']}: it counts no more."))

    def _signature(self, said: Said, signed: Said | None) -> None:
        name = f"The sign-off of '{said['skill']}' ({said['id']})"
        if signed is None:
            if said.get("evidence"):
                raise Wrong(f"{name} comes without the evidence that was signed.")
            self.lines.append(("note", f"{name} was brought in from elsewhere, without evidence of its own."))
            return
        evidence = read_json(signed["evidence"])
        if not _same(said, signed, evidence):
            raise Wrong(f"{name}: what is said to have been signed is not what was signed.")
        document = self.files.get(f"protocols/{evidence['protocol']}.json", b"")
        if sha(document).hex() != evidence["protocol_digest"]:
            raise Wrong(f"{name}: the protocol enclosed is not the one under which it was signed.")
        for attempt in evidence["attempts"]:
            entry = self.rows.contents.get(attempt["id"])
            as_shown = entry is not None and all(
                entry.get(field, UNSAID.get(field)) == value for field, value in attempt.items()
            )
            if not as_shown and attempt["id"] not in self.rows.erased:
                raise Wrong(f"{name}: attempt {attempt['id']} of its evidence is not enclosed as it was shown.")
        self.lines.append(("holds", f"{name} by {said['by']}: statement, evidence and protocol are those signed."))


def _same(said: Said, signed: Said, evidence: Said) -> bool:
    """The digest in the sealed content is that of the evidence, and both speak of the same thing."""
    return bool(
        sha(signed["evidence"].encode()).hex() == signed["digest"] == said["evidence"]
        and signed["statement"] == said["statement"]
        and signed["signer_name"] in said["statement"]
        and signed["skill"] == evidence["skill"] == said["skill"]
        and evidence["episode"] == said["episode"]
        and signed["override"] == said.get("override")
    )
