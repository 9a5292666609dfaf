"""Keys: made once, rotated with an overlap, closed; and what a key is worth after it was closed."""

from __future__ import annotations

import os
import shutil
import stat
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from clinic import clock
from clinic.audit import trail
from clinic.audit.leaf import TRAIL
from clinic.ledger import keys, memory, note, sealing
from clinic.ledger import trust as trusting
from clinic.ledger.keys import NoKeys, ring, signers
from clinic.ledger.merkle import Edge
from clinic.ledger.models import Checkpoint, LedgerLeaf
from clinic.ledger.note import NotGenuine, Signer, key_id, opened, parsed
from clinic.ledger.rotation import OVERLAP, NotNow, close, rotate
from clinic.ledger.seal import seal
from clinic.models import Alarm, TrailRow
from tests.ledger.hands import behind, gaps, holds, rows, sealed
from tests.makers import now


def write(many: int = 1) -> None:
    for _ in range(many):
        trail.record(None, "test.done", "test", "1", at=now())


def signed_by(row: Checkpoint) -> list[int]:
    """The places in the ring of the keys that signed a checkpoint."""
    places = {key_id(ring().origin, key.public): place for place, key in enumerate(ring().keys)}
    return [places[line.key_id] for line in parsed(row.note)[1]]


def newest() -> Checkpoint:
    return Checkpoint.objects.latest("number")


def test_keys_are_closed_to_everybody_else(ledger: Path) -> None:
    for path in (ledger, ledger / "mac", ledger / "seal"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o700
    for path in (*ledger.glob("mac/*"), *ledger.glob("seal/*")):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert len(keys.mac_key()) == 32
    seed = next(ledger.glob("seal/*")).read_text().strip()
    assert seed not in (ledger / "ring.json").read_text()


def test_keys_are_made_once(ledger: Path, tmp_path: Path, settings: Any, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(CommandError, match="holds keys already"):
        call_command("ledger_keys", "make")
    settings.LEDGER_KEYS, settings.PUBLIC_ADDRESS = str(tmp_path / "other"), "https://clinic.example:8443"
    call_command("ledger_keys", "make")
    said = capsys.readouterr().out
    assert ring().origin == "clinic.example/ledger"
    assert ring().keys[0].fingerprint in said


def test_keys_of_before_tablets_sealed_say_so_and_rotating_adds_what_is_missing(
    ledger: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What happens with them: no page brings a key, and nothing that was sealed can be opened. The rest goes on."""
    write()
    seal(now())
    shutil.rmtree(ledger / "sealing")
    sealing._known = None
    assert sealing.public_key() == ""
    with pytest.raises(sealing.Unreadable, match="not here any more"):
        sealing.opened(key="1", enc=bytes(sealing.ENC_BYTES), box=b"", mark="m", staff="S-1")
    call_command("ledger_keys", "list")
    assert keys.NO_SEALING in capsys.readouterr().out
    call_command("ledger_keys", "rotate")
    assert keys.NO_SEALING not in capsys.readouterr().out
    sealing._known = None
    assert sealing.public_key().startswith("1 ")
    assert holds()


@pytest.mark.usefixtures("transactional_db")
def test_without_keys_nothing_is_written_and_nothing_sealed(settings: Any, tmp_path: Path) -> None:
    settings.LEDGER_KEYS = str(tmp_path / "nothing")
    keys.forget()
    try:
        with pytest.raises(NoKeys, match="ledger_keys make"):
            write()
        with pytest.raises(NoKeys, match="ledger_keys make"):
            seal(now())
        assert not TrailRow.objects.exists()
    finally:
        keys.forget()


def test_during_the_overlap_both_keys_count_and_checkpoints_bear_both_signatures(ledger: Path) -> None:
    write(2)
    seal(now())
    old = keys.mac_key()
    rotate(now())
    assert keys.mac_key() != old
    assert set(keys.mac_keys()) == {old, keys.mac_key()}
    assert signed_by(newest()) == [0, 1]
    write_with(old)
    write()
    assert seal(now()).refused == 0
    assert signed_by(newest()) == [0, 1]
    assert set(sealed()) == rows()
    assert holds()


def write_with(key: bytes) -> None:
    """A row by a process that does not know of the new key yet."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(keys, "mac_key", lambda: key)
        write()


def test_after_closing_the_old_keys_are_worth_nothing(ledger: Path) -> None:
    write(2)
    seal(now())
    old_mac, (old_signer,) = keys.mac_key(), signers(ring())
    rotate(now())
    with pytest.raises(NotNow, match="ten minutes"):
        close(now())
    ring_before = ring()
    close(now() + OVERLAP + timedelta(seconds=5))
    write()
    seal(now())
    assert signed_by(newest()) == [1]
    assert [key.last is None for key in ring().keys] == [False, True]
    assert [path.name for path in sorted(ledger.rglob("*.key"))] == ["2.key", "2.key", "2.key"]
    write_with(old_mac)
    assert seal(now()).refused == 1
    assert holds()
    # the thief's checkpoint of a larger ledger, by the old key alone
    thief = Edge.load(bytes(newest().edge))
    thief.append(b"\1" * 32)
    forged = note.signed(note.Checkpoint(ring().origin, thief.size, thief.root(), now()), [old_signer])
    assert opened(forged, ring_before).size == thief.size, "before the closing it would have counted"
    with pytest.raises(NotGenuine, match="worth nothing"):
        opened(forged, ring())


def test_a_ledger_resealed_with_the_stolen_old_key_is_not_gone_on_from(ledger: Path) -> None:
    write(3)
    seal(now())
    (thief,) = signers(ring())
    rotate(now())
    close(now(), at_once=True)
    write(2)
    seal(now())
    reseal([bytes(leaf) for leaf in LedgerLeaf.objects.order_by("position").values_list("leaf", flat=True)], [thief])
    with pytest.raises(trusting.Broken, match="not genuine"):
        seal(now())
    assert Alarm.objects.get().kind == "ledger.broken"


def reseal(leaves: list[bytes], thieves: list[Signer]) -> None:
    """What somebody with the superuser and a key would do: other leaves, with a checkpoint that fits them."""
    edge = Edge()
    edge.extend(leaves)
    made = note.Checkpoint(ring().origin, edge.size, edge.root(), now())
    words = (edge.size, edge.root(), now(), edge.dump(), note.signed(made, thieves))
    with behind() as other:
        other.execute("DELETE FROM clinic_checkpoint WHERE size >= %s", [edge.size])
        other.execute("DELETE FROM clinic_ledgerleaf WHERE position >= %s", [edge.size])
        other.execute(
            "INSERT INTO clinic_checkpoint (number, size, root, at, edge, note)"
            " SELECT 1 + coalesce(max(number), 0), %s, %s, %s, %s, %s FROM clinic_checkpoint",
            words,
        )


def test_a_key_is_rotated_only_when_the_last_rotation_is_closed(ledger: Path) -> None:
    rotate(now())
    with pytest.raises(NotNow, match="close the old keys first"):
        rotate(now())
    close(now(), at_once=True)
    rotate(now())
    assert len(ring().keys) == 3
    assert [row.verb for row in TrailRow.objects.order_by("number")] == [
        "ledger_keys.rotated",
        "ledger_keys.closed",
        "ledger_keys.rotated",
    ]


def test_there_is_nothing_to_close_without_a_newer_key(ledger: Path) -> None:
    with pytest.raises(CommandError, match="rotate first"):
        call_command("ledger_keys", "close", "--at-once")


def test_a_process_sees_a_new_key_by_itself(ledger: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = keys.mac_key()
    keys.add_mac(ledger)
    os.utime(ledger / "mac", ns=(1, 1))  # whatever the file system's clock, the folder has changed
    assert keys.mac_key() == first, "it looks once a second"
    later = clock.ticks() + 2 * keys.LOOK_AGAIN
    monkeypatch.setattr(keys, "ticks", lambda: later)
    assert keys.mac_key() != first
    assert keys.mac_keys()[1] == first


def test_seal_keys_that_are_not_the_rings_are_not_used(ledger: Path) -> None:
    write()
    path = next((ledger / "seal").glob("*.key"))
    path.write_text("11" * 32)
    with pytest.raises(NoKeys, match="put back the right ones"):
        seal(now())
    assert sealed() == []


class TestGoingOn:
    """The sealer goes on from what was signed last and from nothing else."""

    @pytest.fixture(autouse=True)
    def _sealed_twice(self, ledger: Path) -> None:
        write(300)
        seal(now())
        write(5)
        seal(now())
        write(2)

    def refused(self, match: str) -> None:
        before = sealed()
        for _ in range(2):
            with pytest.raises(trusting.Broken, match=match):
                seal(now())
        assert sealed() == before
        alarm = Alarm.objects.get()
        assert (alarm.kind, "clinic's guide" in alarm.text) == ("ledger.broken", True)

    def test_not_from_yesterdays_database(self) -> None:
        with behind() as other:
            other.execute("DELETE FROM clinic_checkpoint WHERE size > 300")
            other.execute("DELETE FROM clinic_ledgerleaf WHERE position >= 300")
            other.execute("DELETE FROM clinic_trailrow WHERE number > 300")
        self.refused("rolled back or restored")

    def test_unless_somebody_says_that_a_backup_was_restored(self, ledger: Path) -> None:
        """The ledger itself says so from then on, and the file that knew more is kept."""
        self.test_not_from_yesterdays_database()
        with pytest.raises(CommandError, match="Say why"):
            call_command("seal_ledger", after_restore=" ")
        call_command("seal_ledger", after_restore="the disk failed; backup of last night, on Fenna's word")
        said = TrailRow.objects.get(verb="ledger.resumed")
        assert (said.detail["size"], "Fenna" in said.detail["reason"]) == (300, True)
        assert (TRAIL.code, said.number) in sealed()
        assert set(sealed()) == rows()
        assert (memory.path().parent / said.detail["kept"]).exists()
        assert not Alarm.objects.filter(settled_at=None).exists()
        with pytest.raises(CommandError, match="nothing to take up again"):
            call_command("seal_ledger", after_restore="once more")
        assert holds()

    def test_not_from_an_empty_one(self) -> None:
        with behind() as other:
            other.execute("DELETE FROM clinic_checkpoint")
            other.execute("DELETE FROM clinic_ledgerleaf")
            other.execute("DELETE FROM clinic_ledgernode")
        self.refused("rolled back or restored")

    def test_not_without_its_newest_leaves(self) -> None:
        with behind() as other:
            other.execute("DELETE FROM clinic_ledgerleaf WHERE position >= 303")
        self.refused("has 305 leaves, the tree 303")

    def test_not_from_another_edge(self) -> None:
        edge = Edge.load(bytes(newest().edge))
        edge.peaks[0] = b"\7" * 32
        with behind() as other:
            other.execute(
                "UPDATE clinic_checkpoint SET edge = %s, root = %s WHERE size = 305", [edge.dump(), edge.root()]
            )
        self.refused("not its")

    def test_not_from_a_note_that_was_changed(self) -> None:
        with behind() as other:
            other.execute("UPDATE clinic_checkpoint SET note = replace(note, 'at 2', 'at 1') WHERE size = 305")
        self.refused("not genuine")

    def test_not_from_history_rewritten_with_the_seal_key_itself(self) -> None:
        """Whoever has the key too is found out by the file, which the database does not reach."""
        reseal([b"\5" * 32] * 305, signers(ring()))
        self.refused("rolled back or restored")

    def test_a_file_that_was_changed_is_not_believed_either(self) -> None:
        text = memory.path().read_text().replace("\n305\n", "\n304\n")
        memory.path().write_text(text)
        self.refused("file of checkpoints is not genuine")


def test_rows_of_two_keys_missing_are_told_as_one_alarm_and_sealed_when_the_key_is_back(ledger: Path) -> None:
    """The wrong folder of keys looks like an attack; once it is put right nothing is lost."""
    write(3)
    kept = keys.mac_key()
    path = next((ledger / "mac").glob("*.key"))
    path.write_text("22" * 32)
    keys.forget()
    assert seal(now()).refused == 3
    assert gaps() == [(TRAIL.code, 1, 3, True)]
    assert "3 rows of clinic_trailrow" in Alarm.objects.get().text
    path.write_text(kept.hex())
    keys.forget()
    assert seal(now()).leaves == 3  # and the alarm's own row bears the wrong key's MAC
    assert sealed()[:3] == [(TRAIL.code, number) for number in (1, 2, 3)]
