"""Who carries an episode and who stands in: never two at once, and access follows the dates."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from typing import Any

import pytest
from django.db import IntegrityError, connection

from caseload.assignment.cover import arrange_cover, end_cover
from caseload.assignment.selectors import hands
from caseload.assignment.services import assign, end_assignment, reassign
from caseload.models import Assignment, Cover, Episode
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Conflict, Denied, Invalid, NotFound, Refusal, Stale
from clinic.models import OutboxRow, Staff, TrailRow
from tests.makers import a_lead, a_person, a_prosthetist, a_therapist, an_episode, now

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TODAY = clock.local_day(clock.now(), "Europe/London")


def sees(staff: Staff, episode: Episode) -> bool:
    rows = access.scoped(staff, Action.SEE_PERSON, Episode.objects.all(), at=clock.now())
    return rows.filter(pk=episode.pk).exists()


def standing(episode: Episode) -> Assignment:
    return Assignment.objects.get(episode=episode, period__contains=clock.now())


def move(lead: Staff, episode: Episode, to: Staff, seen: Assignment, version: int | None = None) -> Assignment:
    return reassign(
        actor=lead,
        episode_id=episode.pk,
        staff_id=to.pk,
        standing_id=seen.pk,
        version=seen.version if version is None else version,
        reason="nearer to home",
    )


def test_the_database_refuses_two_who_carry_at_once() -> None:
    episode, other = an_episode(), a_therapist()
    with pytest.raises(IntegrityError, match="assignment_one_at_a_time"):
        Assignment.objects.create(episode=episode, staff=other, period=(now(), None), made_by=other)


def test_the_database_refuses_two_who_stand_in_at_once() -> None:
    episode, other = an_episode(), a_therapist()
    Cover.objects.create(episode=episode, staff=other, period=(now(), now() + DAY), made_by=other)
    with pytest.raises(IntegrityError, match="cover_one_at_a_time"):
        Cover.objects.create(episode=episode, staff=other, period=(now() + DAY / 2, None), made_by=other)


def test_an_assignment_that_overlaps_is_refused_and_names_who_stands() -> None:
    episode = an_episode(assigned_to=a_therapist(name="Runa Achterling"))
    with pytest.raises(Conflict, match=r"Runa Achterling carries .* already, since .* Move them instead"):
        assign(actor=a_lead(), episode_id=episode.pk, staff_id=a_therapist().pk)
    assert Assignment.objects.filter(episode=episode).count() == 1


def test_who_nobody_carries_can_be_assigned_and_the_therapist_hears_of_it() -> None:
    episode, lead, other = an_episode(), a_lead(), a_therapist()
    seen = standing(episode)
    end_assignment(actor=lead, assignment_id=seen.pk, version=seen.version, reason="left the clinic")
    row = assign(actor=lead, episode_id=episode.pk, staff_id=other.pk)
    assert sees(other, episode)
    assert OutboxRow.objects.get(dedupe_key=f"assignment.made:{row.pk}").payload["staff"] == str(other.pk)


def test_reassigning_moves_access_at_once() -> None:
    first, second = a_therapist(), a_therapist()
    episode = an_episode(assigned_to=first)
    move(a_lead(), episode, second, standing(episode))
    assert (sees(first, episode), sees(second, episode)) == (False, True)


def test_reassigning_to_whoever_carries_already_changes_nothing() -> None:
    episode = an_episode()
    seen = standing(episode)
    assert move(a_lead(), episode, seen.staff, seen).pk == seen.pk
    assert Assignment.objects.filter(episode=episode).count() == 1


def test_reassigning_what_somebody_moved_meanwhile_is_refused_and_names_who_carries_now() -> None:
    episode, lead = an_episode(), a_lead()
    seen = standing(episode)
    move(lead, episode, a_therapist(name="Jonas Wexthorn"), seen)
    with pytest.raises(Conflict, match="Jonas Wexthorn carries them now"):
        move(lead, episode, a_therapist(), seen)


def test_reassigning_cuts_the_cover_of_the_one_who_carried() -> None:
    episode, lead, cover = an_episode(), a_lead(), a_therapist()
    Cover.objects.create(episode=episode, staff=cover, period=(now() - DAY, now() + 9 * DAY), made_by=lead)
    move(lead, episode, a_therapist(), standing(episode))
    assert not sees(cover, episode)


def test_only_a_therapist_can_be_given_somebody() -> None:
    episode, lead = an_episode(), a_lead()
    with pytest.raises(Invalid, match="no therapist on that day"):
        move(lead, episode, a_prosthetist(), standing(episode))


def test_a_therapist_may_not_assign() -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    with pytest.raises(Denied):
        move(mine, episode, a_therapist(), standing(episode))
    with pytest.raises(NotFound):
        move(a_therapist(), episode, mine, standing(episode))


def test_cover_gives_access_on_its_days_and_not_outside() -> None:
    episode, cover = an_episode(), a_therapist()
    arrange_cover(
        actor=a_lead(), episode_id=episode.pk, staff_id=cover.pk, first_day=TODAY + 2 * DAY, last_day=TODAY + 3 * DAY
    )
    inside = clock.day_starts(TODAY + 3 * DAY, episode.site.time_zone) + timedelta(hours=23)
    seen = []
    for at in (now(), inside, inside + timedelta(hours=1)):
        rows = access.scoped(cover, Action.SEE_PERSON, Episode.objects.all(), at=at)
        seen.append(rows.filter(pk=episode.pk).exists())
    assert seen == [False, True, False]


def test_a_leave_is_covered_for_everybody_carried_or_for_nobody() -> None:
    away, cover, lead = a_therapist(), a_therapist(), a_lead()
    mine = [an_episode(assigned_to=away, person=a_person(given_name=name)) for name in ("Maro", "Ines")]
    days: Any = {"first_day": TODAY, "last_day": TODAY + 5 * DAY}
    arrange_cover(actor=lead, episode_id=mine[1].pk, staff_id=a_therapist(name="Lucie Amberwick").pk, **days)
    with pytest.raises(Conflict, match="Lucie Amberwick covers Ines Ashdown already"):
        arrange_cover(actor=lead, away_id=away.pk, staff_id=cover.pk, **days)
    assert not sees(cover, mine[0])
    later: Any = {"first_day": TODAY + 6 * DAY, "last_day": TODAY + 7 * DAY}
    assert len(arrange_cover(actor=lead, away_id=away.pk, staff_id=cover.pk, **later)) == 2


@pytest.mark.parametrize(
    ("days", "sentence"), [((3, 2), "before the first"), ((0, 2), "carries .* no cover is needed")]
)
def test_a_cover_that_makes_no_sense_is_refused(days: tuple[int, int], sentence: str) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    first, last = (TODAY + day * DAY for day in days)
    with pytest.raises(Invalid, match=sentence):
        arrange_cover(actor=a_lead(), episode_id=episode.pk, staff_id=mine.pk, first_day=first, last_day=last)


def test_ending_a_cover_ends_access_and_a_second_end_changes_nothing() -> None:
    episode, cover, lead = an_episode(), a_therapist(), a_lead()
    days: Any = {"first_day": TODAY, "last_day": TODAY + 5 * DAY}
    (row,) = arrange_cover(actor=lead, episode_id=episode.pk, staff_id=cover.pk, **days)
    end_cover(actor=lead, cover_id=row.pk, version=row.version)
    assert not sees(cover, episode)
    end_cover(actor=lead, cover_id=row.pk, version=row.version)
    assert TrailRow.objects.filter(verb="cover.ended", subject_id=str(row.pk)).count() == 1


def test_two_who_end_one_cover_the_second_is_told() -> None:
    episode, lead = an_episode(), a_lead()
    days: Any = {"first_day": TODAY, "last_day": TODAY + 5 * DAY}
    (row,) = arrange_cover(actor=lead, episode_id=episode.pk, staff_id=a_therapist().pk, **days)
    with pytest.raises(Stale):
        end_cover(actor=lead, cover_id=row.pk, version=row.version - 1)


def test_hands_tell_who_carries_and_who_stands_in() -> None:
    mine, cover = a_therapist(name="Runa Achterling"), a_therapist(name="Lucie Amberwick")
    episode = an_episode(assigned_to=mine)
    Cover.objects.create(episode=episode, staff=cover, period=(now() - DAY, now() + DAY), made_by=mine)
    found = hands(a_lead(), episode.pk, at=clock.now())
    assert (found.carrier.staff, found.standing_in.staff) == ("Runa Achterling", "Lucie Amberwick")  # type: ignore[union-attr]  # None fails the test as well


def _at_once(first: Callable[[], object], second: Callable[[], object]) -> list[object]:
    """What two did who began at the same moment: what each returned, or the refusal that each met."""
    gate = Barrier(2)

    def run(act: Callable[[], object]) -> object:
        try:
            gate.wait(5)
            return act()
        except Refusal as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(run, (first, second)))


@pytest.mark.django_db(transaction=True)
def test_of_two_leads_who_assign_at_once_one_is_told_who_was_quicker() -> None:
    episode, leads = an_episode(), [a_lead(), a_lead()]
    seen = standing(episode)
    end_assignment(actor=leads[0], assignment_id=seen.pk, version=seen.version, reason="left the clinic")
    to = [a_therapist(name="Jonas Wexthorn"), a_therapist(name="Lucie Amberwick")]
    done = _at_once(
        *(
            lambda lead=lead, staff=staff: assign(actor=lead, episode_id=episode.pk, staff_id=staff.pk)
            for lead, staff in zip(leads, to, strict=True)
        )
    )
    (won,) = [one for one in done if isinstance(one, Assignment)]
    (lost,) = [one for one in done if isinstance(one, Conflict)]
    assert won.staff.name in lost.sentence


@pytest.mark.django_db(transaction=True)
def test_of_two_covers_arranged_at_once_one_stands() -> None:
    episode, lead = an_episode(), a_lead()
    staff = [a_therapist(), a_therapist()]
    days: Any = {"first_day": TODAY, "last_day": TODAY + DAY}
    done = _at_once(
        *(lambda one=one: arrange_cover(actor=lead, episode_id=episode.pk, staff_id=one.pk, **days) for one in staff)
    )
    assert sorted(type(one).__name__ for one in done) == ["Conflict", "list"]
    assert Cover.objects.filter(episode=episode).count() == 1
