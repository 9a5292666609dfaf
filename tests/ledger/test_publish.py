"""Checkpoints leave the machine: to witnesses, an authority, the records officers; and a contradiction is heard."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.core.management import call_command

from clinic.audit import trail
from clinic.ledger import keys, memory, note, publish, stamps, witness
from clinic.ledger.mail import mail_daily
from clinic.ledger.models import Checkpoint
from clinic.ledger.ring import Ring
from clinic.ledger.rotation import close, rotate
from clinic.ledger.seal import seal
from clinic.models import Alarm, OutboxRow
from clinic.outbox.drain import drain
from tests.ledger import test_stamps as authorities
from tests.ledger.authority import Authority
from tests.ledger.hands import behind
from tests.ledger.test_witness import refused, serving
from tests.makers import a_lead, a_records_officer, now

pytestmark = pytest.mark.usefixtures("ledger")
NOBODY = "http://127.0.0.1:9"  # the port that discards: nothing listens there


def go_on(many: int = 3) -> Checkpoint:
    """Write, seal and tell."""
    for _ in range(many):
        trail.record(None, "test.done", "test", "1", at=now())
    seal(now())
    drain()
    return Checkpoint.objects.latest("number")


def alarms() -> list[str]:
    return [alarm.kind for alarm in Alarm.objects.filter(settled_at=None).order_by("raised_at")]


def test_every_witness_has_the_newest_checkpoint(tmp_path: Path, settings: Any) -> None:
    with serving(tmp_path / "a", keys.ring()) as one, serving(tmp_path / "b", keys.ring()) as other:
        settings.LEDGER_WITNESSES = [one]
        for many in (1, 3, 300):
            assert witness.latest(one) == "" or many > 1
            assert go_on(many).note == witness.latest(one)
        settings.LEDGER_WITNESSES = [one, other]
        newest = go_on()
        assert witness.latest(one) == witness.latest(other) == newest.note
    assert alarms() == []
    assert memory.last_note() == newest.note


def test_a_witness_that_is_down_holds_up_no_other_and_is_told_later(tmp_path: Path, settings: Any) -> None:
    with serving(tmp_path, keys.ring()) as up:
        settings.LEDGER_WITNESSES = [NOBODY, up]
        first = go_on()
        assert witness.latest(up) == first.note
        waiting = OutboxRow.objects.get(topic="checkpoint.witnessed", done_at=None)
        assert (waiting.payload["witness"], waiting.attempts) == (NOBODY, 1)
    assert alarms() == [], "not yet"
    with pytest.raises(witness.Unreachable):
        publish.tell_witness(waiting.payload, now() + timedelta(hours=25))
    assert alarms() == ["ledger.not_witnessed"]
    go_on()
    publish.tell_witness(waiting.payload, now())  # there is a newer one: that is sent, and this one is done with


def test_a_witness_contradicts_a_history_that_was_rewritten(tmp_path: Path, settings: Any) -> None:
    """By somebody with the database, the seal keys and the file of checkpoints."""
    with serving(tmp_path / "witness", keys.ring()) as address:
        settings.LEDGER_WITNESSES = [address]
        before = go_on(5)
        with behind() as other:
            for table in ("clinic_checkpoint", "clinic_ledgerleaf", "clinic_ledgergap"):
                other.execute(f"DELETE FROM {table}")
            other.execute("DELETE FROM clinic_trailrow WHERE number = 2")
        memory.path().unlink()
        go_on(4)
        assert witness.latest(address) == before.note
        assert alarms() == ["ledger.contradicted"]
        assert len(refused(tmp_path / "witness")) == 1


def test_a_witness_knows_more_than_a_database_of_yesterday(tmp_path: Path, settings: Any) -> None:
    with serving(tmp_path / "witness", keys.ring()) as address:
        settings.LEDGER_WITNESSES = [address]
        go_on(5)
        go_on(5)
        with behind() as other:
            other.execute("DELETE FROM clinic_checkpoint WHERE size > 5")
            other.execute("DELETE FROM clinic_ledgerleaf WHERE position >= 5")
            other.execute("DELETE FROM clinic_trailrow WHERE number > 5")
        memory.path().unlink()
        go_on(1)
        assert alarms() == ["ledger.contradicted"]
        assert "10 leaves" in Alarm.objects.get().text


def test_a_witness_learns_of_a_new_key_and_of_its_predecessors_end(tmp_path: Path, settings: Any) -> None:
    with serving(tmp_path / "witness", keys.ring()) as address:
        settings.LEDGER_WITNESSES = [address]
        go_on()
        (thief,) = keys.signers(keys.ring())
        rotate(now())
        close(now(), at_once=True)
        newest = go_on()
        assert witness.latest(address) == newest.note
        made = note.Checkpoint(keys.ring().origin, newest.size, b"\3" * 32, now())
        with pytest.raises(witness.NotTaken):
            witness.post(address, note.signed(made, [thief]), witness.Proof(newest.size))
    assert alarms() == []


def test_a_witness_of_another_ledger_is_an_alarm(tmp_path: Path, settings: Any) -> None:
    keys.make(tmp_path / "other", "elsewhere.example/ledger")
    strange = Ring.load((tmp_path / "other" / "ring.json").read_text())
    with serving(tmp_path / "witness", strange) as address:
        settings.LEDGER_WITNESSES = [address]
        go_on()
        assert alarms() == ["ledger.contradicted"]


def test_the_days_checkpoint_is_stamped_by_the_authority(tmp_path: Path, settings: Any) -> None:
    authority = Authority(tmp_path / "authority")
    roots = tmp_path / "roots.pem"
    roots.write_bytes(authority.roots)
    with authorities.serving(authority) as address:
        settings.LEDGER_TSA, settings.LEDGER_TSA_ROOTS, settings.LEDGER_STAMPS = (
            address,
            str(roots),
            str(tmp_path / "s"),
        )
        first, second = go_on(), go_on()
    answer = stamps.kept(tmp_path / "s", first.size)
    assert answer is not None
    assert authority.agrees(answer, first.note.encode())
    assert stamps.kept(tmp_path / "s", second.size) is None, "once a day"


def test_records_officers_get_the_checkpoint_by_mail_once_a_day() -> None:
    officer, lead = a_records_officer(email="fenna@alder-reach.example"), a_lead(email="marit@alder-reach.example")
    newest = go_on()
    for _ in range(2):
        mail_daily(now())
        drain()
    (letter,) = [one for one in mail.outbox if officer.email in one.to]
    assert newest.note in str(letter.body)
    assert keys.ring().keys[0].fingerprint in str(letter.body)
    assert not [one for one in mail.outbox if lead.email in one.to]
    assert mail_daily(now() + timedelta(days=1)) == 1
    assert OutboxRow.objects.filter(topic="checkpoint.mailed").count() == 2


def test_the_mail_is_in_the_officers_language_and_the_note_as_it_was_signed() -> None:
    a_records_officer(email="fenna@alder-reach.example", language="es")
    newest = go_on()
    mail_daily(now())
    drain()
    (letter,) = mail.outbox
    assert letter.subject.startswith("Punto de control del registro del ")
    assert "Guarde este correo" in str(letter.body)
    assert newest.note in str(letter.body)


def test_nothing_is_mailed_before_anything_is_sealed() -> None:
    a_records_officer(email="fenna@alder-reach.example")
    assert mail_daily(now()) == 0


def test_listing_keys(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("ledger_keys", "list")
    assert keys.ring().keys[0].fingerprint in capsys.readouterr().out
