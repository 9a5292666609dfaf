"""Each row stands in the sealed ledger as it stands in the bundle, and its content is the one that was written."""

from __future__ import annotations

from checklists.proof.offline.notes import Head, Said, Wrong, read_json
from checklists.proof.offline.tree import included, sha, unhex

ENTRY, TRAIL = "checklists_entry", "clinic_trailrow"
ERASED = ("erasure.confirmed", "erasure.reapplied")


class Rows:
    """The rows of a bundle. After the checks: the rows of `entries` and their `contents` by id, the ids of those whose
    content was `erased`, and the rows of the `trail`."""

    def __init__(self, bundle: Said, heads: list[Head], lines: list[tuple[str, str]]) -> None:
        self.bundle, self.heads, self.lines = bundle, heads, lines
        self.head = heads[0] if heads else None
        self.entries: dict[str, Said] = {}
        self.contents: dict[str, Said] = {}
        self.erased: list[str] = []
        self.trail: list[Said] = []

    def check(self) -> None:
        """The entries, one by one; the first that does not hold: Wrong."""
        about = self.bundle["about"]
        sealed = 0
        for one in self.bundle["entries"]:
            row = read_json(one["row"])
            name = f"Entry {row['id']} ({row['kind']})"
            if row["table"] != ENTRY or row["episode_id"] != about["episode"] or row["id"] in self.entries:
                raise Wrong(f"{name} does not belong here.")
            self.entries[row["id"]] = row
            self._committed(one, row, name)
            sealed += self._sealed(one, name)
        sign_offs = [one for one, row in self.entries.items() if row["kind"] == "sign_off"]
        wanted = {"sign_off": sign_offs, "episode": [about["episode_reference"]]}
        if not self.entries or about["reference"] not in wanted.get(about["kind"], ()):
            raise Wrong("What the bundle is about is not in it.")
        self.lines.append(("holds", f"Entries that stand in the sealed ledger as they stand here: {sealed}."))
        if self.erased:
            why = "that they were made, when and by whom still stands"
            self.lines.append(("note", f"Entries whose content was erased: {len(self.erased)}; {why}."))

    def check_trail(self) -> None:
        """The rows of the audit trail; where content was erased, one of them must account for it."""
        verbs: list[str] = []
        for one in self.bundle["trail"]:
            row = read_json(one["row"])
            name = f"Row {row['number']} of the audit trail ({row['verb']})"
            if row["table"] != TRAIL or row["episode"] not in (self.bundle["about"]["episode"], None):
                raise Wrong(f"{name} does not belong here.")
            self.trail.append(row)
            verbs += [row["verb"]] if self._sealed(one, name) else []
        if verbs:
            self.lines.append(("holds", f"Rows of the audit trail that stand in the sealed ledger: {len(verbs)}."))
        if self.erased and not any(verb in ERASED for verb in verbs):
            raise Wrong("Content is missing, and no sealed row of the audit trail accounts for an erasure.")

    def sealed_by(self, one: Said) -> str:
        """By when a row was sealed at the latest: the earliest checkpoint that has it, by the server's clock."""
        place = one["sealed"]
        seen = [head.at for head in self.heads if place is not None and place["position"] < head.size]
        return f"sealed by {min(seen)}" if seen else "not sealed yet"

    def _sealed(self, one: Said, name: str) -> bool:
        """Whether the row is sealed; False, with a line, where it is not yet."""
        place = one["sealed"]
        if place is None:
            self.lines.append(("open", f"{name} is not sealed yet: ask for a new bundle in a minute."))
            return False
        leaf = sha(b"\x00" + one["row"].encode())
        head = self.head
        if head is None or not included(leaf, place["position"], head.size, unhex(place["path"]), head.root):
            raise Wrong(f"{name} does not stand in the sealed ledger as it stands here.")
        return True

    def _committed(self, one: Said, row: Said, name: str) -> None:
        """The content is the one to which the row is bound, or it was erased, with the reason."""
        if one["content"] is None:
            if one["salt"] is not None or not one["erased"]:
                raise Wrong(f"{name}: the content is missing, and nothing says why.")
            self.erased.append(row["id"])
            return
        if sha(bytes.fromhex(one["salt"]) + one["content"].encode()).hex() != row["commitment"] or one["erased"]:
            raise Wrong(f"{name}: the content is not the one that was written.")
        said = read_json(one["content"])
        reference = self.bundle["about"]["episode_reference"]
        if (said["id"], said["kind"], said["episode"]) != (row["id"], row["kind"], reference):
            raise Wrong(f"{name}: the content is that of another entry.")
        self.contents[row["id"]] = said
