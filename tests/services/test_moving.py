"""A move takes effect on its day, and not before; whoever makes it has seen what no longer reaches them."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from checklists.leaving.moving import move_staff
from checklists.leaving.reach import Losses, losses
from clinic import access, clock
from clinic.access import Action, Assurance, Scope
from clinic.errors import Conflict, Denied, Invalid, NotFound, Stale
from clinic.models import Site, SiteMove, Staff, StaffSession, TrailRow
from clinic.staff import sessions
from clinic.staff.moves import move_whose_day_has_come
from clinic.staff.roles import Role
from tests.makers import a_lead, a_pin, a_site, a_tablet, a_therapist, an_assistant, an_episode, now

pytestmark = pytest.mark.django_db
TODAY = now().date()
SOON = TODAY + timedelta(days=9)


def quay() -> Site:
    return a_site("Quay Street")


def lost(lead: Staff, staff: Staff, *, day: date = SOON, site: Site | None = None, roles: tuple[str, ...]) -> Losses:
    where = site or staff.site
    return losses(lead, staff.pk, on_day=day, site_id=where.pk, roles=roles, at=clock.now())


def moved(lead: Staff, staff: Staff, *, day: date = SOON, site: Site | None = None, roles: tuple[str, ...]) -> None:
    seen = lost(lead, staff, day=day, site=site, roles=roles).digest
    move_staff(actor=lead, staff_id=staff.pk, on_day=day, site_id=(site or staff.site).pk, roles=roles, seen=seen)


def fresh(staff: Staff) -> Staff:
    return Staff.objects.select_related("site").get(pk=staff.pk)


def test_roles_change_on_the_day_and_not_before() -> None:
    lead, staff = a_lead(), an_assistant()
    moved(lead, staff, roles=(Role.THERAPIST,))
    before, after = fresh(staff).roles_on(SOON - timedelta(days=1)), fresh(staff).roles_on(SOON)
    assert [before, after] == [frozenset({Role.ASSISTANT}), frozenset({Role.THERAPIST})]
    assert access.reach(fresh(staff), Action.RECORD, clock.now()) is Scope.SITE


def test_a_site_changes_when_its_day_has_come_and_ends_what_a_pin_had_opened() -> None:
    lead, staff = a_lead(), a_pin(an_assistant())
    opened = sessions.begin(staff, Assurance.PIN, at=now(), tablet=a_tablet())
    moved(lead, staff, site=quay(), roles=(Role.ASSISTANT,))
    assert move_whose_day_has_come(now()) == 0
    assert fresh(staff).site.name == "Alder Reach"
    day = clock.day_starts(SOON, "Europe/London")
    assert move_whose_day_has_come(day - timedelta(seconds=1)) == 0
    assert move_whose_day_has_come(day) == 1
    assert move_whose_day_has_come(day) == 0
    assert fresh(staff).site.name == "Quay Street"
    assert StaffSession.objects.get(pk=opened.pk).ended_at is not None
    assert TrailRow.objects.filter(verb="staff.moved", subject_id=staff.reference).count() == 1


def test_today_is_at_once_and_yesterday_is_refused() -> None:
    lead, staff = a_lead(), an_assistant()
    moved(lead, staff, day=TODAY, site=quay(), roles=(Role.ASSISTANT,))
    assert fresh(staff).site.name == "Quay Street"
    with pytest.raises(Invalid, match="past"):
        moved(lead, fresh(staff), day=TODAY - timedelta(days=2), roles=(Role.ASSISTANT,))


def test_a_second_plan_takes_the_place_of_the_first() -> None:
    lead, staff = a_lead(), an_assistant()
    moved(lead, staff, site=quay(), roles=(Role.ASSISTANT,))
    moved(lead, staff, day=SOON + timedelta(days=5), site=quay(), roles=(Role.ASSISTANT,))
    assert SiteMove.objects.filter(cancelled_at__isnull=True).count() == 1
    assert move_whose_day_has_come(clock.day_starts(SOON, "Europe/London")) == 0


def test_an_assistant_who_moves_no_longer_reaches_the_people_of_the_site_they_leave() -> None:
    lead, staff = a_lead(), an_assistant()
    here = an_episode(site=a_site())
    an_episode(site=quay())
    found = lost(lead, staff, site=quay(), roles=(Role.ASSISTANT,))
    assert [one.episode_id for one in found.people] == [here.pk]
    assert (found.actions, found.left_alone) == ((), 0)


def test_a_therapist_who_becomes_an_assistant_leaves_those_they_carry() -> None:
    lead, staff = a_lead(), a_therapist()
    mine = an_episode(assigned_to=staff)
    found = lost(lead, staff, roles=(Role.ASSISTANT,))
    assert "sign off" in found.actions
    assert [(one.episode_id, one.carried) for one in found.people] == [(mine.pk, True)]
    assert found.left_alone == 1


def test_who_keeps_everything_loses_nothing() -> None:
    lead, staff = a_lead(), a_therapist()
    an_episode(assigned_to=staff)
    assert lost(lead, staff, site=quay(), roles=(Role.THERAPIST,)).digest == ""


def test_without_having_seen_what_is_lost_nothing_happens() -> None:
    lead, staff = a_lead(), a_therapist()
    an_episode(assigned_to=staff)
    for seen in ("", "another"):
        with pytest.raises(Stale):
            move_staff(
                actor=lead, staff_id=staff.pk, on_day=SOON, site_id=staff.site_id, roles=["assistant"], seen=seen
            )
    assert fresh(staff).roles_on(SOON) == {Role.THERAPIST}


def test_the_last_lead_stays_one_and_nobody_is_left_without_a_role() -> None:
    lead = a_lead()
    with pytest.raises(Conflict, match="only clinic lead"):
        moved(lead, lead, roles=(Role.THERAPIST,))
    with pytest.raises(Invalid, match="Without a role"):
        moved(lead, lead, roles=())


def test_only_a_lead_moves_anybody() -> None:
    other, staff = a_therapist(), an_assistant()
    with pytest.raises((Denied, NotFound)):
        move_staff(actor=other, staff_id=staff.pk, on_day=SOON, site_id=staff.site_id, roles=["therapist"])
