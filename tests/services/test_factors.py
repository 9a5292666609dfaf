"""Second factors: codes by the published vectors, each good once; recovery codes; the secret at rest; who may change
what."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.db import IntegrityError, connection, transaction
from django.test import override_settings

from clinic import clock
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid, NotFound, Refusal
from clinic.outbox.drain import drain
from clinic.staff import attempts
from clinic.staff.attempts import LockedOut
from clinic.staff.factors import demo, recovery, services, totp, vault
from clinic.staff.factors.check import MOST_FAILURES, KeyNotHere, WrongCode, check_code
from clinic.staff.factors.lost import remove_lost_factor
from clinic.staff.factors.models import Factor, RecoveryCode, good_codes, in_use
from clinic.staff.factors.policy import REQUIRED, Moment, requires
from clinic.staff.models import Staff
from clinic.staff.reauthenticate import NotConfirmed, WrongPassword
from clinic.staff.roles import Role
from clinic.watch.models import Alarm
from tests.makers import PASSWORD, SECRET, a_code, a_lead, a_proof, a_records_officer, a_therapist, an_assistant

pytestmark = pytest.mark.django_db(transaction=True)
RFC_6238 = {  # appendix B, SHA-1: the last six of its eight digits
    59: "287082",
    1111111109: "081804",
    1111111111: "050471",
    1234567890: "005924",
    2000000000: "279037",
    20000000000: "353130",
}
# appendix D of RFC 4226
RFC_4226 = ["755224", "287082", "359152", "969429", "338314", "254676", "287922", "162583", "399871", "520489"]


def codes_of(staff: Staff) -> list[str]:
    return services.make_recovery_codes(actor=staff, proof=a_proof(staff))


def verbs(staff: Staff) -> list[str]:
    return list(TrailRow.objects.filter(subject_id=staff.reference).order_by("number").values_list("verb", flat=True))


# --- codes by time ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(("second", "code"), RFC_6238.items())
def test_codes_are_those_of_the_standard(second: int, code: str) -> None:
    """RFC 6238, appendix B."""
    at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=second)
    assert totp.code_of(SECRET, totp.step_of(at)) == code


def test_counted_codes_are_those_of_the_standard_too() -> None:
    """RFC 4226, appendix D."""
    assert [totp.code_of(SECRET, count) for count in range(10)] == RFC_4226


@pytest.mark.parametrize(("off", "good"), [(-2, False), (-1, True), (0, True), (1, True), (2, False)])
def test_a_clock_may_be_one_step_off_and_no_further(off: int, good: bool) -> None:
    staff = a_therapist()
    code = totp.code_of(SECRET, totp.step_of(clock.now()) + off)
    if good:
        assert check_code(staff, code, at=clock.now()) is False
    else:
        with pytest.raises(WrongCode):
            check_code(staff, code, at=clock.now())


def test_a_code_is_good_once() -> None:
    staff, code = (who := a_therapist()), a_code(who)
    check_code(staff, f"{code[:3]} {code[3:]}", at=clock.now())
    with pytest.raises(WrongCode):
        check_code(staff, code, at=clock.now())


def test_after_a_code_none_of_an_earlier_step_is_good() -> None:
    staff, step = a_therapist(), totp.step_of(clock.now())
    check_code(staff, totp.code_of(SECRET, step), at=clock.now())
    with pytest.raises(WrongCode):
        check_code(staff, totp.code_of(SECRET, step - 1), at=clock.now())


def test_the_same_code_twice_at_once_is_used_once() -> None:
    staff, code, at = (who := a_therapist()), a_code(who), clock.now()

    def use(_: int) -> str:
        try:
            check_code(staff, code, at=at)
        except Refusal as refusal:
            return refusal.code
        finally:
            connection.close()
        return "in"

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(use, range(4))) == ["in", *["wrong_code"] * 3]


def test_wrong_codes_lock_like_wrong_passwords_and_the_right_password_does_not_wipe_them_out() -> None:
    staff = a_therapist()
    for _ in range(attempts.FROM_HERE):
        with pytest.raises(WrongCode):
            check_code(staff, "000000", at=clock.now())
    attempts.forget(staff.username)
    with pytest.raises(LockedOut, match="Too many wrong codes"):
        check_code(staff, a_code(staff), at=clock.now())


def test_after_a_hundred_wrong_codes_in_a_row_an_app_opens_nothing() -> None:
    """NIST SP 800-63B-4: at most 100 consecutive failures, then the authenticator is disabled."""
    staff = a_therapist()
    Factor.objects.filter(staff=staff).update(failures=MOST_FAILURES - 1)
    for code in ("000000", a_code(staff)):
        with pytest.raises(WrongCode):
            check_code(staff, code, at=clock.now())
    assert verbs(staff) == ["factor.shut"]
    drain()
    assert "shut" in str(mail.outbox[0].body)


def test_a_right_code_begins_the_count_of_wrong_ones_anew() -> None:
    staff = a_therapist()
    with pytest.raises(WrongCode):
        check_code(staff, "000000", at=clock.now())
    assert in_use(staff).get().failures == 1
    check_code(staff, a_code(staff), at=clock.now())
    assert in_use(staff).get().failures == 0


def test_a_wrong_code_stays_counted_whatever_becomes_of_the_deed() -> None:
    staff = a_therapist()
    with pytest.raises(RuntimeError, match="durable"), transaction.atomic():
        check_code(staff, a_code(staff), at=clock.now())


# --- at rest ----------------------------------------------------------------------------------------------------------
def test_the_secret_does_not_stand_in_the_database() -> None:
    kept = bytes(in_use(a_therapist()).get().secret or b"")
    assert SECRET not in kept
    assert len(kept) > len(SECRET) + 16


def test_a_secret_copied_to_somebody_else_opens_nothing() -> None:
    mine, theirs = in_use(a_therapist()).get(), in_use(a_therapist()).get()
    with pytest.raises(vault.Locked):
        vault.opened(bytes(theirs.secret or b""), mine.about)


def test_without_its_key_a_secret_stays_shut(tmp_path: Path) -> None:
    row = in_use(a_therapist()).get()
    with override_settings(LEDGER_KEYS=str(tmp_path / "others")), pytest.raises(vault.Locked, match="key"):
        vault.opened(bytes(row.secret or b""), row.about)


def test_the_key_is_a_file_that_nobody_else_reads_and_older_keys_go_on_opening(tmp_path: Path) -> None:
    with override_settings(LEDGER_KEYS=str(tmp_path / "keys")):
        sealed = vault.seal(b"x", "y")
        path = vault.folder() / vault.FILE
        assert path.stat().st_mode & 0o777 == 0o600
        path.write_text("ab" * 32 + "\n" + path.read_text())
        assert vault.opened(sealed, "y") == b"x"
        assert vault.seal(b"x", "y")[:4] != sealed[:4]


def test_a_server_that_has_lost_the_key_says_so_and_recovery_codes_go_on_opening(tmp_path: Path) -> None:
    staff = a_therapist()
    codes = codes_of(staff)
    code, at = a_code(staff), clock.now()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(vault, "folder", lambda: tmp_path)
        with pytest.raises(KeyNotHere, match="key"):
            check_code(staff, code, at=at)
        assert check_code(staff, codes[0], at=at) is True
    assert Alarm.objects.get().kind == "factor_keys.missing"


# --- recovery codes ---------------------------------------------------------------------------------------------------
def test_ten_recovery_codes_each_good_once_and_kept_as_digests() -> None:
    staff = a_therapist()
    codes = codes_of(staff)
    assert len(set(codes)) == 10
    kept = set(RecoveryCode.objects.values_list("digest", flat=True))
    assert kept == {recovery.digest_of(code) for code in codes}
    assert check_code(staff, f" {codes[0].upper()} ", at=clock.now()) is True
    with pytest.raises(WrongCode):
        check_code(staff, codes[0], at=clock.now())
    assert good_codes(staff).count() == 9
    assert verbs(staff)[-1] == "recovery_code.used"


def test_recovery_codes_have_bits_enough_for_a_plain_digest() -> None:
    """OWASP ASVS 5.0, 6.5.2: 112 bits at least."""
    assert len(recovery.ALPHABET) ** (recovery.GROUPS * recovery.LETTERS_EACH) > 2**112


def test_new_recovery_codes_make_the_old_ones_void() -> None:
    staff = a_therapist()
    old = codes_of(staff)
    codes_of(staff)
    with pytest.raises(WrongCode):
        check_code(staff, old[0], at=clock.now())


def test_a_recovery_code_of_somebody_else_opens_nothing() -> None:
    codes = codes_of(a_therapist())
    with pytest.raises(WrongCode):
        check_code(a_therapist(), codes[0], at=clock.now())


# --- one's own --------------------------------------------------------------------------------------------------------
def added(staff: Staff, *, name: str = "second", **more: Any) -> Factor:
    secret = totp.a_secret()
    given = {"proof": a_proof(staff) if in_use(staff).exists() else a_proof(staff, code=""), **more}
    code = totp.code_of(secret, totp.step_of(clock.now()))
    return services.add_app(actor=staff, name=name, **{"secret": secret, "code": code, **given})


def test_the_first_factor_takes_the_password_and_a_code_of_the_app() -> None:
    staff = a_therapist(factor=False)
    row = added(staff, name="my telephone")
    assert in_use(staff).get() == row
    assert row.last_step is not None, "the code that added it is used up"
    assert verbs(staff) == ["factor.added"]


def test_an_app_whose_code_is_wrong_is_not_added() -> None:
    staff = a_therapist(factor=False)
    with pytest.raises(Invalid, match="not the app's code"):
        added(staff, code="000000")
    assert not in_use(staff).exists()


def test_a_further_factor_takes_all_components_of_what_there_is() -> None:
    staff = a_therapist()
    with pytest.raises(NotConfirmed):
        added(staff, proof=a_proof(staff, code=""))
    with pytest.raises(WrongPassword):
        added(staff, proof=a_proof(staff, password="not this one"))
    added(staff)
    assert in_use(staff).count() == 2


def test_who_has_a_password_that_was_given_adds_none() -> None:
    staff = a_therapist(factor=False, password_given_at=clock.now())
    with pytest.raises(Denied, match="password of your own"):
        added(staff)


def test_every_change_is_told_to_the_owner_by_mail_without_a_secret() -> None:
    staff = a_therapist()
    row = added(staff)
    services.rename_factor(actor=staff, factor_id=row.pk, proof=a_proof(staff), name="on my ring")
    codes = codes_of(staff)
    services.remove_factor(actor=staff, factor_id=row.pk, proof=a_proof(staff))
    drain()
    said = "\n".join(str(message.body) for message in mail.outbox)
    assert [message.to for message in mail.outbox] == [[staff.email]] * 4
    for words in ("was added", "was renamed", "recovery codes were made", "was removed"):
        assert words in said
    assert not any(code in said for code in codes)
    assert staff.name not in said


def test_a_removed_factor_is_worthless_and_its_secret_gone() -> None:
    staff = a_therapist()
    row = added(staff)
    services.remove_factor(actor=staff, factor_id=in_use(staff).exclude(pk=row.pk).get().pk, proof=a_proof(staff))
    gone = Factor.objects.exclude(pk=row.pk).get()
    assert (gone.secret, gone.removed_by) == (None, staff)
    with pytest.raises(WrongCode):
        check_code(staff, a_code(staff), at=clock.now())


@pytest.mark.parametrize(("make", "stays"), [(a_lead, True), (a_records_officer, True), (a_therapist, False)])
def test_the_last_factor_stays_where_the_role_must_have_one(make: Any, stays: bool) -> None:
    staff: Staff = make()
    row = in_use(staff).get()
    if stays:
        with pytest.raises(Conflict, match="last one"):
            services.remove_factor(actor=staff, factor_id=row.pk, proof=a_proof(staff))
    else:
        codes_of(staff)
        services.remove_factor(actor=staff, factor_id=row.pk, proof=a_proof(staff))
        assert not good_codes(staff).exists(), "with the last factor the recovery codes go"


def test_somebody_elses_factor_is_not_there() -> None:
    staff, other = a_therapist(), a_therapist()
    with pytest.raises(NotFound):
        services.remove_factor(actor=staff, factor_id=in_use(other).get().pk, proof=a_proof(staff))
    assert in_use(other).exists()


def test_two_factors_of_one_name_are_refused() -> None:
    staff = a_therapist()
    with pytest.raises(Conflict, match="already"):
        added(staff, name="TELEPHONE")


def test_a_factor_in_use_without_its_secret_is_refused_by_the_database() -> None:
    row = in_use(a_therapist()).get()
    with pytest.raises(IntegrityError), transaction.atomic():
        Factor.objects.filter(pk=row.pk).update(secret=None)


# --- a lead and a lost one --------------------------------------------------------------------------------------------
def lost(lead: Staff, staff: Staff, how: str = "They stand before me.") -> None:
    remove_lost_factor(actor=lead, staff_id=staff.pk, factor_id=in_use(staff).get().pk, how=how)


def test_a_lead_takes_a_lost_factor_away_and_says_how_they_knew_them() -> None:
    lead, staff = a_lead(), a_therapist()
    lost(lead, staff)
    staff.refresh_from_db()
    assert not in_use(staff).exists()
    assert staff.identity_checked_at is None, "somebody else checks anew who they are"
    row = TrailRow.objects.get(verb="factor.removed")
    assert (row.actor, "They stand before me." in str(row.detail)) == (lead, True)
    drain()
    assert mail.outbox[0].to == [staff.email]


def test_without_a_word_on_the_identity_nothing_is_taken_away() -> None:
    staff = a_therapist()
    with pytest.raises(Invalid, match="how you made sure"):
        lost(a_lead(), staff, how=" ")
    assert in_use(staff).exists()


@pytest.mark.parametrize("make", [a_therapist, an_assistant, a_records_officer])
def test_nobody_but_a_lead_takes_a_factor_away(make: Any) -> None:
    staff = a_therapist()
    with pytest.raises((Denied, NotFound)):
        lost(make(), staff)
    assert in_use(staff).exists()


def test_a_lead_does_not_take_their_own_away_by_that_door() -> None:
    lead = a_lead()
    with pytest.raises(Conflict, match="own page"):
        lost(lead, lead)


def test_there_is_no_way_for_a_lead_to_add_a_factor_to_somebody() -> None:
    """Read from the services: each that adds one adds it to its actor."""
    for service in (services.add_app, services.add_passkey, services.make_recovery_codes):
        assert "staff_id" not in service.__annotations__


# --- the table, and the demo ------------------------------------------------------------------------------------------
def test_who_must_have_a_second_factor() -> None:
    assert REQUIRED[Moment.SIGN_IN] == {Role.CLINIC_LEAD, Role.RECORDS_OFFICER}
    assert all(requires([role], moment) for role in Role for moment in (Moment.SIGN, Moment.COUNTERSIGN))
    assert not requires([Role.THERAPIST], Moment.SIGN_IN)


def test_outside_the_demo_no_page_says_a_code() -> None:
    staff = a_therapist()
    assert demo.code_now(staff, clock.now()) == ""
    with override_settings(DEMO=True):
        assert demo.code_now(staff, clock.now()) == a_code(staff)


def test_the_demo_says_the_other_leads_codes_where_one_countersigns_and_nothing_else_does() -> None:
    lead, other = a_lead(), a_lead(username="second")
    a_therapist()
    assert demo.codes_of_leads(lead, clock.now()) == ""
    with override_settings(DEMO=True):
        assert demo.codes_of_leads(lead, clock.now()) == f"second {a_code(other)}"


def test_the_demo_says_a_code_that_was_not_used_yet() -> None:
    staff = a_therapist()
    with override_settings(DEMO=True):
        at = clock.now()
        check_code(staff, demo.code_now(staff, at), at=at)
        check_code(staff, demo.code_now(staff, at), at=at)


def test_the_password_of_the_makers_is_theirs() -> None:
    assert a_therapist().check_password(PASSWORD)
