"""A PIN of one's own: which ones are refused, how wrong ones count, and what locks and opens it again."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta

import pytest
from django.db import connection

from checklists.leaving.services import end_staff
from clinic import clock
from clinic.access import Assurance, assurance
from clinic.access.assurance import NeedsMore
from clinic.errors import Conflict, Denied, Invalid, NotFound, Refusal
from clinic.models import Alarm, Pin, Staff, StaffSession, Tablet, TrailRow
from clinic.staff import sessions
from clinic.staff.services import give_password
from clinic.staff.tablet import pins, services
from clinic.staff.tablet.pin_rules import fault_of
from tests.makers import PIN, a_lead, a_pin, a_records_officer, a_site, a_tablet, a_therapist, now


@pytest.mark.parametrize(
    "pin",
    [
        *("", "12345", "1234567890123", "12345a", "१२३४५६", "24 681"),  # too short, too long, not digits
        *("123456", "654321", "345678", "890123", "210987"),  # runs, also round the corner
        *("111111", "121212", "123123", "112233", "12341234"),  # repeats
        *("020461", "040261", "610204", "311299", "02041961", "19610402", "12312026"),  # days of some year
    ],
)
def test_a_pin_that_is_tried_first_is_refused(pin: str) -> None:
    assert fault_of(pin)


@pytest.mark.parametrize("pin", [PIN, "739164", "40718236", "909817265034"])
def test_one_that_is_none_of_these_is_taken(pin: str) -> None:
    assert fault_of(pin) == ""


def test_every_day_of_a_hundred_years_is_refused_in_every_order() -> None:
    day = date(1950, 1, 1)
    while day.year < 2050:
        for pattern in ("%d%m%y", "%m%d%y", "%y%m%d", "%d%m%Y", "%m%d%Y", "%Y%m%d"):
            assert fault_of(day.strftime(pattern)), day.strftime(pattern)
        day += timedelta(days=1)


def test_most_of_the_million_are_left() -> None:
    """Refusing the trivial ones makes guessing no easier: more than four fifths stay."""
    assert sum(fault_of(f"{number:06}") == "" for number in range(0, 1_000_000, 37)) > 0.8 * 1_000_000 / 37


pytestmark = pytest.mark.django_db


def tried(tablet: Tablet, staff: Staff, pin: str = "739165") -> str:
    """What becomes of a PIN at a tablet: 'in', or the code of the refusal."""
    try:
        services.sign_in_by_pin(tablet=tablet, staff_id=staff.pk, pin=pin)
    except Refusal as refusal:
        return refusal.code
    return "in"


def verbs(staff: Staff) -> list[str]:
    return list(TrailRow.objects.filter(subject_id=staff.reference).order_by("number").values_list("verb", flat=True))


def test_the_right_pin_comes_in_and_the_pin_itself_stands_nowhere() -> None:
    staff, tablet = a_pin(a_therapist()), a_tablet()
    assert tried(tablet, staff, PIN) == "in"
    assert PIN not in Pin.objects.get().digest
    assert PIN not in "".join(str(row.detail) for row in TrailRow.objects.all())


def test_five_wrong_ones_on_whatever_tablets_lock_it_on_all_of_them() -> None:
    staff, tablets = a_pin(a_therapist()), [a_tablet("Bars"), a_tablet("Stairs")]
    codes = [tried(tablets[number % 2], staff) for number in range(pins.TRIES)]
    assert codes == ["wrong_pin"] * (pins.TRIES - 1) + ["pin_locked"]
    assert {tried(tablet, staff, PIN) for tablet in tablets} == {"pin_locked"}
    assert verbs(staff)[-3:] == ["pin.locked", "pin.refused_locked", "pin.refused_locked"]
    assert Alarm.objects.get(settled_at__isnull=True).kind == "pin.locked"


def test_four_wrong_ones_lock_nobody_and_the_right_one_starts_afresh() -> None:
    staff, tablet = a_pin(a_therapist()), a_tablet()
    for _ in range(2):
        assert [tried(tablet, staff) for _ in range(pins.TRIES - 1)] == ["wrong_pin"] * (pins.TRIES - 1)
        assert tried(tablet, staff, PIN) == "in"


def test_a_colleagues_wrong_ones_do_not_count_for_mine() -> None:
    mine, other, tablet = a_pin(a_therapist()), a_pin(a_therapist()), a_tablet()
    for _ in range(pins.TRIES):
        tried(tablet, other)
    assert tried(tablet, mine, PIN) == "in"


@pytest.mark.django_db(transaction=True)
def test_guesses_at_the_same_moment_all_count() -> None:
    staff, tablet = a_pin(a_therapist()), a_tablet()

    def guess(_: int) -> str:
        try:
            return tried(tablet, staff)
        finally:
            connection.close()

    with ThreadPoolExecutor(8) as pool:
        codes = sorted(pool.map(guess, range(12)))
    assert codes == ["pin_locked"] * (12 - pins.TRIES + 1) + ["wrong_pin"] * (pins.TRIES - 1)


def test_signing_in_with_the_password_opens_the_lock_and_settles_the_alarm() -> None:
    staff, tablet = a_pin(a_therapist()), a_tablet()
    for _ in range(pins.TRIES):
        tried(tablet, staff)
    pins.unlock(staff, at=clock.now())
    assert tried(tablet, staff, PIN) == "in"
    assert not Alarm.objects.filter(settled_at__isnull=True).exists()


def test_only_staff_of_its_site_who_record_come_in() -> None:
    tablet = a_tablet()
    quay = a_pin(a_therapist(site=a_site("Quay Street")))
    officer = a_therapist()
    a_pin(officer)
    officer.role_terms.update(role="records_officer")
    former = a_pin(a_therapist())
    end_staff(actor=a_lead(), staff_id=former.pk, reason="left")
    assert [tried(tablet, who, PIN) for who in (quay, officer, former, a_therapist())] == ["wrong_pin"] * 4


def test_a_pin_waits_until_a_given_password_is_changed() -> None:
    staff, tablet = a_pin(a_therapist()), a_tablet()
    give_password(actor=a_lead(), staff_id=staff.pk)
    assert tried(tablet, staff, PIN) == "given_password"
    assert tried(tablet, staff) == "wrong_pin"


def test_a_tablet_that_is_not_enrolled_or_was_revoked_lets_nobody_in() -> None:
    lead, staff, tablet = a_lead(), a_pin(a_therapist()), a_tablet()
    awaited = services.add_tablet(actor=lead, name="New", site_id=staff.site_id)
    assert tried(awaited.tablet, staff, PIN) == "conflict"
    assert tried(services.revoke_tablet(actor=lead, tablet_id=tablet.pk, reason="lost"), staff, PIN) == "conflict"


def test_a_pin_is_chosen_by_who_records_after_more_than_a_pin() -> None:
    with pytest.raises(Conflict, match="record"):
        pins.set_pin(actor=a_records_officer(), pin=PIN, again=PIN)
    with assurance.acting(Assurance.PIN), pytest.raises(NeedsMore):
        pins.set_pin(actor=a_therapist(), pin=PIN, again=PIN)
    with pytest.raises(Invalid, match="not alike"):
        pins.set_pin(actor=a_therapist(), pin=PIN, again="739165")
    with pytest.raises(Invalid, match="date"):
        pins.set_pin(actor=a_therapist(), pin="020461", again="020461")


def test_a_pin_given_up_or_taken_away_ends_what_it_opened() -> None:
    lead, staff, tablet = a_lead(), a_pin(a_therapist()), a_tablet()
    ends: list[Callable[[], None]] = [
        lambda: pins.give_up_pin(actor=staff),
        lambda: pins.take_pin(actor=lead, staff_id=staff.pk),
    ]
    for end in ends:
        a_pin(staff)
        opened = sessions.begin(staff, Assurance.PIN, at=now(), tablet=tablet)
        end()
        assert StaffSession.objects.get(pk=opened.pk).ended_at is not None
        assert tried(tablet, staff, PIN) == "wrong_pin"
    with pytest.raises(NotFound):
        pins.take_pin(actor=staff, staff_id=lead.pk)


# --- enrolling and revoking ------------------------------------------------------------------------------------------
def test_a_code_enrols_one_device_once_within_a_quarter_of_an_hour() -> None:
    lead = a_lead()
    code = services.add_tablet(actor=lead, name="Bars", site_id=lead.site_id).code
    enrolled = services.enrol_by_code(code=f" {code.upper().replace('-', ' ')} ")
    assert enrolled.secret not in str(Tablet.objects.values().get())
    with pytest.raises(services.CodeRefused):
        services.enrol_by_code(code=code)
    late = services.add_tablet(actor=lead, name="Stairs", site_id=lead.site_id)
    Tablet.objects.filter(pk=late.tablet.pk).update(code_until=now() - timedelta(seconds=1))
    with pytest.raises(services.CodeRefused):
        services.enrol_by_code(code=late.code)


def test_codes_cannot_be_guessed_on_and_on() -> None:
    lead = a_lead()
    code = services.add_tablet(actor=lead, name="Bars", site_id=lead.site_id).code
    for _ in range(5):
        with pytest.raises(services.CodeRefused, match="waits for"):
            services.enrol_by_code(code="aaaaa-aaaaa")
    with pytest.raises(services.CodeRefused, match="Too many"):
        services.enrol_by_code(code=code)


@pytest.mark.parametrize("deed", ["add", "here", "revoke"])
def test_only_a_lead_keeps_the_tablets_and_each_deed_leaves_a_row(deed: str) -> None:
    tablet = a_tablet()

    def do(actor: Staff) -> None:
        if deed == "add":
            services.add_tablet(actor=actor, name="More", site_id=actor.site_id)
        elif deed == "here":
            services.enrol_here(actor=actor, name="More", site_id=actor.site_id)
        else:
            services.revoke_tablet(actor=actor, tablet_id=tablet.pk, reason="lost")

    with pytest.raises(Denied):
        do(a_therapist())
    lead = a_lead()
    do(lead)
    last = TrailRow.objects.filter(actor=lead).order_by("-number")[0]
    assert last.verb == {"add": "tablet.added", "here": "tablet.enrolled", "revoke": "tablet.revoked"}[deed]


def test_revoking_ends_every_session_on_it_and_no_other() -> None:
    lead, staff, tablet = a_lead(), a_pin(a_therapist()), a_tablet()
    on_it = sessions.begin(staff, Assurance.PIN, at=now(), tablet=tablet)
    elsewhere = sessions.begin(staff, Assurance.PASSWORD, at=now())
    services.revoke_tablet(actor=lead, tablet_id=tablet.pk, reason="left on the bus")
    services.revoke_tablet(actor=lead, tablet_id=tablet.pk, reason="twice is once")
    open_now = StaffSession.objects.filter(ended_at__isnull=True)
    assert [row.pk for row in open_now] == [elsewhere.pk]
    assert on_it.pk != elsewhere.pk
    assert Tablet.objects.get(pk=tablet.pk).revoked_why == "left on the bus"
