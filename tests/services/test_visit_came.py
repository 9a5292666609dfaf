"""A session that is opened settles the session that was planned for it, and no other."""

from datetime import datetime, time, timedelta
from typing import Any

import pytest

from caseload.episode.models import Episode
from caseload.visit.models import Visit
from caseload.visit.services import plan_visits, set_visit_state
from clinic.audit.models import TrailRow
from clinic.clock import at_instant, instant_of, local_day
from clinic.models import Staff
from tests.makers import a_therapist, an_attempt, an_entry, an_episode, now, recorded

pytestmark = pytest.mark.django_db(transaction=True)
ZONE = "Europe/London"


def _planned(actor: Staff, episode: Episode, *, days: int = 1, wall: time) -> Visit:
    day = local_day(now(), ZONE) + timedelta(days=days)
    (visit,) = plan_visits(actor=actor, episode_id=episode.pk, day=day, wall=wall)
    return visit


def _noon() -> datetime:
    return instant_of(local_day(now(), ZONE) + timedelta(days=1), time(12), ZONE)


@pytest.fixture(autouse=True)
def _settable(settings: Any) -> None:
    settings.CLOCK_CAN_BE_SET = True


def test_the_session_of_the_day_nearest_to_the_opening_has_come_about() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    morning, noon, later = (
        _planned(therapist, episode, wall=time(8)),
        _planned(therapist, episode, wall=time(12, 30)),
        _planned(therapist, episode, days=2, wall=time(9)),
    )
    with at_instant(middle := _noon()):
        recorded(therapist, episode, an_entry("session_opened", at=middle), an_attempt(at=middle))
    states = dict(Visit.objects.values_list("pk", "state"))
    assert states == {morning.pk: "planned", noon.pk: "came", later.pk: "planned"}
    row = TrailRow.objects.get(verb="visit.came")
    assert (row.actor_id, row.subject_id) == (therapist.pk, str(noon.pk))


def test_what_somebody_has_said_stays() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    visit = _planned(therapist, episode, wall=time(12))
    set_visit_state(actor=therapist, visit_id=visit.pk, version=1, state="cancelled")
    with at_instant(middle := _noon()):
        recorded(therapist, episode, an_entry("session_opened", at=middle))
    assert Visit.objects.get().state == "cancelled"


def test_facts_other_than_an_opening_settle_nothing() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    _planned(therapist, episode, wall=time(12))
    with at_instant(middle := _noon()):
        recorded(therapist, episode, an_attempt(at=middle))
    assert Visit.objects.get().state == "planned"
