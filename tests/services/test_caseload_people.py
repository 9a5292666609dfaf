"""Persons, their referrals and the waiting list."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.models import Person, Referral, Weight
from caseload.person.details import PersonDetails
from caseload.person.selectors import people_named, person_file
from caseload.person.services import add_person, add_weight, edit_person
from caseload.referral.details import ReferralDetails
from caseload.referral.selectors import waiting_list
from caseload.referral.services import change_referral, end_referral, take_referral
from clinic import clock
from clinic.access import Action, scoped
from clinic.errors import Conflict, Denied, Invalid, NotFound, Stale
from clinic.models import TrailRow
from tests.makers import (
    a_lead,
    a_person,
    a_referral,
    a_site,
    a_therapist,
    an_assistant,
    an_episode,
    now,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TODAY = clock.local_day(clock.now(), "Europe/London")
ROBIN = PersonDetails(
    second_identifier="R-7781", given_name="Robin", family_name="Ashdown", born_on=date(1961, 4, 2), called="Rob"
)
SENT = ReferralDetails(
    received_on=TODAY - 3 * DAY, reason="To walk to the shop.", urgency="soon", level="transfemoral", side="left"
)


def the_details(person: Person) -> PersonDetails:
    return PersonDetails(**{name: getattr(person, name) for name in ROBIN.fields()})


def test_a_new_person_gets_the_next_number_of_the_year() -> None:
    lead = a_lead()
    numbers = [add_person(actor=lead, site_id=lead.site_id, details=ROBIN).number for _ in range(2)]
    assert numbers == [f"{now():%y}-0001", f"{now():%y}-0002"]


def test_a_number_that_somebody_has_is_refused() -> None:
    lead, other = a_lead(), a_person()
    with pytest.raises(Conflict, match="belongs to somebody else"):
        add_person(actor=lead, site_id=lead.site_id, details=replace(ROBIN, number=other.number))
    assert Person.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"given_name": ""}, "given name"),
        ({"email": "nobody"}, "email"),
        ({"second_identifier": "9" * 41}, "second identifier"),
        ({"born_on": date(1720, 1, 1)}, "birth date"),
        ({"born_on": date(2190, 1, 1)}, "birth date"),
    ],
)
def test_details_that_do_not_fit_are_refused_with_the_field(wrong: dict[str, Any], said: str) -> None:
    lead = a_lead()
    with pytest.raises(Invalid) as caught:
        add_person(actor=lead, site_id=lead.site_id, details=replace(ROBIN, **wrong))
    assert said in " ".join([caught.value.sentence, *caught.value.reasons])
    assert not Person.objects.exists()


def test_two_people_edit_one_person_and_the_second_is_told_who_changed_what() -> None:
    person, first, second = a_person(phone="01"), a_lead(name="Marit Sandhollow"), a_lead()
    seen = person.version
    edit_person(actor=first, person_id=person.pk, version=seen, details=replace(the_details(person), phone="02"))
    with pytest.raises(Stale) as caught:
        edit_person(actor=second, person_id=person.pk, version=seen, details=replace(the_details(person), phone="03"))
    assert "Marit Sandhollow" in caught.value.reasons[0]
    assert caught.value.reasons[0].endswith("changed (phone)")
    person.refresh_from_db()
    assert person.phone == "02"


def test_an_edit_that_changes_nothing_leaves_version_and_trail_as_they_were() -> None:
    person, lead = a_person(), a_lead()
    edit_person(actor=lead, person_id=person.pk, version=person.version, details=the_details(person))
    person.refresh_from_db()
    assert (person.version, TrailRow.objects.filter(verb="person.changed").count()) == (1, 0)


def test_a_therapist_edits_their_own_people_and_knows_of_no_other() -> None:
    mine = a_therapist()
    person = an_episode(assigned_to=mine).person
    edit_person(actor=mine, person_id=person.pk, version=1, details=replace(the_details(person), phone="02"))
    stranger = a_person()
    with pytest.raises(NotFound):
        edit_person(actor=mine, person_id=stranger.pk, version=1, details=the_details(stranger))


def test_who_waits_is_seen_by_the_lead_and_at_the_site_but_by_no_therapist() -> None:
    person = a_person(site=a_site("Quay Street"))
    staff = (
        a_lead(),
        a_therapist(site=person.site),
        an_assistant(site=person.site),
        an_assistant(site=a_site("Alder Reach")),
    )
    sees = [scoped(one, Action.SEE_PERSON, Person.objects.all(), at=clock.now()).exists() for one in staff]
    assert sees == [True, False, True, False]


def test_a_weight_is_dated_and_the_same_day_again_replaces_it() -> None:
    person, lead = a_person(), a_lead()
    for kg in ("81.5", "80.9"):
        add_weight(actor=lead, person_id=person.pk, kg=Decimal(kg), measured_on=TODAY)
    assert person_file(lead, person.pk, at=clock.now()).weights == ((TODAY, Decimal("80.9")),)


@pytest.mark.parametrize(("kg", "day"), [("0", 0), ("400", 0), ("80", 2), ("80", -60_000)])
def test_a_weight_that_cannot_be_is_refused(kg: str, day: int) -> None:
    on = TODAY + day * DAY if day > -1000 else date(1900, 1, 1)
    with pytest.raises(Invalid):
        add_weight(actor=a_lead(), person_id=a_person().pk, kg=Decimal(kg), measured_on=on)
    assert not Weight.objects.exists()


def test_a_referral_of_somebody_new_puts_them_on_the_list_with_the_days_waited() -> None:
    lead = a_lead()
    take_referral(actor=lead, site_id=lead.site_id, details=SENT, person=ROBIN)
    (row,) = waiting_list(lead, at=clock.now())
    assert (row.name, row.wait.days, row.wait.limit, row.wait.over) == ("Rob Ashdown", 3, 14, 0)


def test_who_is_furthest_beyond_the_limit_of_their_urgency_comes_first() -> None:
    for name, urgency, days in (("Quiet", "routine", 29), ("Late", "urgent", 12), ("New", "routine", 2)):
        a_referral(a_person(given_name=name), urgency=urgency, received_on=TODAY - days * DAY)
    rows = waiting_list(a_lead(), at=clock.now())
    assert [(row.name.split()[0], row.wait.over) for row in rows] == [("Late", 5), ("Quiet", 1), ("New", 0)]


def test_the_waiting_list_costs_the_same_however_many_wait() -> None:
    lead, counts = a_lead(), []
    for _ in range(2):
        for _ in range(3):
            a_referral()
        with CaptureQueriesContext(connection) as caught:
            waiting_list(lead, at=clock.now())
        counts.append(len(caught))
    assert counts[0] >= counts[1]


def test_nobody_waits_twice_and_nobody_waits_who_is_in_care() -> None:
    lead, waiting = a_lead(), a_referral()
    in_care = an_episode().person
    for person, sentence in ((waiting.person, "on the waiting list already"), (in_care, "in care already")):
        with pytest.raises(Conflict, match=sentence):
            take_referral(actor=lead, site_id=lead.site_id, details=SENT, person_id=person.pk)


def test_a_refused_referral_leaves_no_new_person_behind() -> None:
    lead = a_lead()
    with pytest.raises(Invalid) as caught:
        take_referral(actor=lead, site_id=lead.site_id, details=replace(SENT, level="bilateral"), person=ROBIN)
    assert "both sides" in caught.value.reasons[0]
    assert not Person.objects.exists()


@pytest.mark.parametrize("side", ["left", "right", "both"])
def test_a_level_that_nobody_knows_yet_contradicts_no_side_and_is_put_right_while_they_wait(side: str) -> None:
    lead, sent = a_lead(), replace(SENT, level="unknown", side=side)
    taken = take_referral(actor=lead, site_id=lead.site_id, details=sent, person=ROBIN)
    known = replace(sent, level="bilateral" if side == "both" else "transfemoral")
    changed = change_referral(actor=lead, referral_id=taken.pk, version=1, site_id=lead.site_id, details=known)
    assert changed.level == known.level


@pytest.mark.parametrize(
    "wrong", [{"received_on": TODAY + 2 * DAY}, {"features": ["wings"]}, {"urgency": "at once"}, {"reason": ""}]
)
def test_a_referral_that_does_not_fit_is_refused(wrong: dict[str, Any]) -> None:
    lead = a_lead()
    with pytest.raises(Invalid):
        take_referral(actor=lead, site_id=lead.site_id, details=replace(SENT, **wrong), person=ROBIN)
    assert not Referral.objects.exists()


def test_ending_a_referral_takes_them_off_the_list_with_the_reason_and_once() -> None:
    lead, row = a_lead(), a_referral()
    for _ in range(2):
        end_referral(actor=lead, referral_id=row.pk, version=row.version, reason="Moved away.")
    row.refresh_from_db()
    assert (row.end_reason, waiting_list(lead, at=clock.now())) == ("Moved away.", [])
    assert TrailRow.objects.filter(verb="referral.ended").count() == 1


def test_only_a_lead_takes_referrals() -> None:
    mine = a_therapist()
    with pytest.raises(Denied):
        take_referral(actor=mine, site_id=mine.site_id, details=SENT, person=ROBIN)
    assert waiting_list(mine, at=clock.now()) == []


def test_somebody_known_is_found_by_the_beginning_of_number_or_names() -> None:
    person, lead = a_person(given_name="Ottoline", family_name="Farrow-Reyes"), a_lead()
    found = [people_named(lead, text, at=clock.now()) for text in ("farrow", "ott far", person.number, "xyz", "", "\0")]
    assert [[one.pk for one in rows] for rows in found] == [[person.pk]] * 3 + [[], [], []]
