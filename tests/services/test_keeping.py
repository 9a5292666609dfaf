"""Retention, legal hold, and the rules of until when."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from checklists.episode.services import close_episode
from checklists.keeping.models import LegalHold, Retention
from checklists.keeping.retention import Ended, kept, last_day
from checklists.keeping.selectors import past_retention
from checklists.keeping.services import lift_hold, place_hold, set_retention
from clinic.audit.models import TrailRow
from clinic.errors import Conflict, Denied, Invalid
from tests.makers import (
    a_lead,
    a_records_officer,
    a_referral,
    a_site,
    a_therapist,
    an_episode,
    now,
)

TODAY = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("ends", "until", "is_open"),
    [
        ([Ended(date(2016, 3, 1), 10)], date(2026, 3, 1), False),
        ([Ended(date(2016, 3, 1), 10), Ended(date(2020, 1, 1), 8)], date(2028, 1, 1), False),  # the longest counts
        ([Ended(date(2016, 3, 1), 10), Ended(date(2016, 3, 1), None)], None, False),  # one site keeps for ever
        ([Ended(date(2016, 3, 1), 10), Ended(None, 10)], None, True),  # in care
        ([Ended(date(2024, 2, 29), 1)], date(2025, 2, 28), False),
        ([], None, False),
    ],
)
def test_a_record_is_kept_as_long_as_the_longest_of_its_parts(ends: Any, until: Any, is_open: Any) -> None:
    found = kept(ends)
    assert (found.until, found.open) == (until, is_open)


def test_the_last_day_itself_is_kept() -> None:
    found = kept([Ended(date(2016, 3, 2), 10)])
    assert not found.past(TODAY)
    assert found.past(TODAY + timedelta(days=1))
    assert last_day(date(9990, 1, 1), 150) == date.max


@pytest.mark.django_db(transaction=True)
class TestRetention:
    """Set by a lead, a site at a time; nothing happens by itself."""

    def test_none_is_set_and_nothing_is_ever_past_it(self) -> None:
        an_ended_person()
        assert list(past_retention(a_records_officer(), at=in_years(140))) == []

    def test_from_the_day_after_the_last_it_stands_on_the_list(self) -> None:
        person = an_ended_person()
        set_retention(actor=a_lead(), site_id=person.site_id, years=10, reason="Policy 7 of Alder Reach")
        officer = a_records_officer()
        assert list(past_retention(officer, at=in_years(10))) == []
        (row,) = past_retention(officer, at=in_years(10) + timedelta(days=1))
        assert (row.number, row.until) == (person.number, in_years(10).date())

    def test_a_record_under_hold_is_never_offered(self) -> None:
        person = an_ended_person()
        set_retention(actor=a_lead(), site_id=person.site_id, years=1, reason="policy")
        officer = a_records_officer()
        hold = place_hold(actor=officer, person_id=person.pk, reason="a claim")
        assert list(past_retention(officer, at=in_years(2))) == []
        lift_hold(actor=officer, hold_id=hold.pk, reason="settled")
        assert len(list(past_retention(officer, at=in_years(2)))) == 1

    def test_whoever_is_in_care_or_waits_again_is_not_on_it(self) -> None:
        person, other = an_ended_person(), an_ended_person()
        set_retention(actor=a_lead(), site_id=person.site_id, years=1, reason="policy")
        an_episode(person=person)
        a_referral(person=other)
        assert list(past_retention(a_records_officer(), at=in_years(3))) == []

    def test_the_newest_setting_of_a_site_counts_and_the_one_before_stays(self) -> None:
        site, lead = a_site(), a_lead()
        set_retention(actor=lead, site_id=site.pk, years=5, reason="policy")
        set_retention(actor=lead, site_id=site.pk, years=None, reason="the law changed")
        an_ended_person()
        assert Retention.objects.filter(site=site).count() == 2
        assert list(past_retention(a_records_officer(), at=in_years(50))) == []
        row = TrailRow.objects.filter(verb="retention.set").latest("number")
        assert (row.actor, row.detail) == (lead, {"site": site.name, "years": None})

    @pytest.mark.parametrize(("years", "reason"), [(0, "policy"), (151, "policy"), (10, " ")])
    def test_a_setting_without_sense_or_reason_is_refused(self, years: Any, reason: Any) -> None:
        with pytest.raises(Invalid):
            set_retention(actor=a_lead(), site_id=a_site().pk, years=years, reason=reason)
        assert not Retention.objects.exists()

    def test_only_a_lead_sets_it(self) -> None:
        for actor in (a_records_officer(), a_therapist()):
            with pytest.raises(Denied):
                set_retention(actor=actor, site_id=a_site().pk, years=10, reason="policy")


@pytest.mark.django_db(transaction=True)
class TestHold:
    """With the reason, by whom, since when, and lifted by whom."""

    def test_it_is_placed_and_lifted_each_with_name_and_reason(self) -> None:
        person, officer, lead = an_ended_person(), a_records_officer(), a_lead()
        hold = place_hold(actor=officer, person_id=person.pk, reason="a claim")
        lift_hold(actor=lead, hold_id=hold.pk, reason="settled on 3 March")
        row = LegalHold.objects.get()
        assert (row.placed_by, row.reason, row.lifted_by, row.lift_reason) == (
            officer,
            "a claim",
            lead,
            "settled on 3 March",
        )
        verbs = TrailRow.objects.filter(subject_id=str(person.pk)).order_by("number").values_list("verb", flat=True)
        assert list(verbs) == ["hold.placed", "hold.lifted"]

    def test_without_a_reason_nothing_is_held_or_lifted(self) -> None:
        person, officer = an_ended_person(), a_records_officer()
        with pytest.raises(Invalid):
            place_hold(actor=officer, person_id=person.pk, reason="")
        hold = place_hold(actor=officer, person_id=person.pk, reason="a claim")
        with pytest.raises(Invalid):
            lift_hold(actor=officer, hold_id=hold.pk, reason=" ")
        lift_hold(actor=officer, hold_id=hold.pk, reason="settled")
        with pytest.raises(Conflict):
            lift_hold(actor=officer, hold_id=hold.pk, reason="again")

    def test_it_is_not_a_therapists_to_place(self) -> None:
        therapist = a_therapist()
        episode = an_episode(assigned_to=therapist)
        with pytest.raises(Denied):
            place_hold(actor=therapist, person_id=episode.person_id, reason="a claim")


def an_ended_person() -> Any:
    """Somebody whose episode ended today."""
    lead = a_lead()
    episode = an_episode()
    close_episode(actor=lead, episode_id=episode.pk, reason="reached")
    return episode.person


def in_years(years: int) -> Any:
    """This hour, so many years on."""
    today = now()
    return today.replace(year=today.year + years)
