"""Each signature stands with what was signed: the statement, the evidence shown, the protocol, the record before it.

The entry, which is sealed, names the evidence; the row of the audit trail, which is sealed too, names the digest of the
signature's text; and the text names everything else.
"""

from __future__ import annotations

from checklists.proof.offline.notes import Said, Wrong, read_json
from checklists.proof.offline.rows import Rows
from checklists.proof.offline.tree import sha

SIGNATURE_FORMAT = "signature 1"
KINDS = {"sign_off": "sign-off", "sign_off_withdrawn": "withdrawal"}
MEANINGS = ("authorship", "review", "approval", "responsibility")
ACCOUNTED = ("skill.signed_off", "skill.sign_off_withdrawn")
UNSAID: dict[str, object] = {"deviations": [], "measures": {}}
"""What the fields of an attempt mean that were left out."""


class Signatures:
    """The signatures among the entries of a bundle."""

    def __init__(self, bundle: Said, files: dict[str, bytes], rows: Rows, lines: list[tuple[str, str]]) -> None:
        self.bundle, self.files, self.rows, self.lines = bundle, files, rows, lines
        self.titles: dict[str, str] = {}

    def check(self) -> None:
        """Every signature; then what took one back or struck something out."""
        for one in self.bundle["entries"]:
            row = read_json(one["row"])
            said, signed = self.rows.contents.get(row["id"]), one["signed"]
            if said is not None and row["kind"] in KINDS:
                self._signature(one, row, said)
            elif signed is not None:
                raise Wrong(f"A signature hangs on entry {row['id']}, which bears none.")
        for entry, said in self.rows.contents.items():
            if said["kind"] == "sign_off_withdrawn":
                title = self.titles.get(said["skill"], said["skill"])
                sentence = f"A sign-off of '{title}' was withdrawn at {said['at']} (entry {entry})."
                self.lines.append(("note", sentence))
            if said["kind"] == "struck_out":
                self.lines.append(("note", f"Entry {said['entry']} was struck out at {said['at']}: it counts no more."))

    def _signature(self, one: Said, row: Said, said: Said) -> None:
        signed = one["signed"]
        name = f"The signature under entry {said['id']} ({KINDS[said['kind']]} of '{self._title(said, signed)}')"
        if signed is None:
            if row["door"] != "import":
                raise Wrong(f"{name} comes without what was signed.")
            self.lines.append(("note", f"{name} is not enclosed: the entry was brought in from elsewhere."))
            return
        text, evidence = read_json(signed["signature"]), read_json(signed["evidence"])
        if not fits(said, signed, text, evidence):
            raise Wrong(f"{name} is not what was signed here.")
        if not self._accounted(row, signed):
            raise Wrong(f"{name} is not the one that the sealed audit trail names.")
        if not self._record(row, signed, text):
            raise Wrong(f"{name}: the record before it is not the one that was signed.")
        if said["kind"] == "sign_off":
            self._shown(name, evidence)
        signer = text["signer"]
        who = f"{signer['name']} ({signer['reference']})"
        self.lines.append(("holds", f"{name} is that of {who}: {text['meaning']}, {self.rows.sealed_by(one)}."))

    def _title(self, said: Said, signed: Said | None) -> str:
        """What the evidence calls the skill, here or in an earlier entry; the skill's key where it says no name."""
        key: str = said["skill"]
        if signed is not None:
            self.titles.setdefault(key, read_json(signed["evidence"]).get("title") or key)
        return self.titles.get(key, key)

    def _accounted(self, row: Said, signed: Said) -> bool:
        """A row of the audit trail, by who the entry is by, names the digest of this very signature."""
        digest = sha(signed["signature"].encode()).hex()
        return any(
            one["verb"] in ACCOUNTED
            and one["actor_id"] == row["by_id"]
            and (one["detail"]["entry"], one["detail"]["signature"]) == (row["id"], digest)
            for one in self.rows.trail
        )

    def _record(self, row: Said, signed: Said, text: Said) -> bool:
        """What stood in the record before: as many entries, these very commitments; those enclosed are among them."""
        before = signed["before"]
        enclosed = sorted((one["number"], one["commitment"]) for one in self.rows.entries.values())
        earlier = [commitment for number, commitment in enclosed if number < row["number"]]
        whole = self.bundle["about"]["kind"] == "episode"
        return bool(
            text["record"]["entries"] == len(before)
            and text["record"]["digest"] == sha(b"".join(bytes.fromhex(one) for one in before)).hex()
            and (before == earlier if whole else set(earlier) <= set(before))
        )

    def _shown(self, name: str, evidence: Said) -> None:
        """The protocol and the attempts that the evidence lists are enclosed as they were shown."""
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


def fits(said: Said, signed: Said, text: Said, evidence: Said) -> bool:
    """The text of the signature, the entry and the evidence speak of the same thing."""
    override, second = said.get("override") or {}, text.get("countersigner") or {}
    digest = sha(signed["evidence"].encode()).hex()
    if said["kind"] == "sign_off":
        of_kind = said["evidence"] == digest and said["statement"] == text["statement"]
    else:
        of_kind = said["reason"] == evidence["reason"]
    return bool(
        of_kind
        and text["format"] == SIGNATURE_FORMAT
        and text["evidence"] == digest
        and text["entry"] == said["id"]
        and text["episode"] == evidence["episode"] == said["episode"]
        and text["skill"] == evidence["skill"] == said["skill"]
        and text["signer"]["reference"] == said["by"]
        and text["signer"]["name"]
        and text["signer"]["role"]
        and text["at"] == said["at"]
        and text["meaning"] in MEANINGS
        and text["shown"]
        and override.get("by") == second.get("reference")
        and override.get("reason") == second.get("reason")
    )
