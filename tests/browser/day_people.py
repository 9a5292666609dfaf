"""Who lives the whole day at the invented clinic, and what happened on the days before it."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from caseload.models import Episode
from clinic import clock
from clinic.staff.models import Staff
from tests import careful_course as careful
from tests.course_builder import FIRST_DAY, Course
from tests.makers import (
    a_lead,
    a_prosthetist,
    a_records_officer,
    a_site,
    a_therapist,
    adopted,
    an_assistant,
    imported,
    now,
    stamp,
)

NAME = "Maro Ellingswood"
SECOND = "R-9407"
DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class People:
    """One of each role, a colleague who can stand in, and today where they work."""

    lead: Staff
    therapist: Staff
    colleague: Staff
    prosthetist: Staff
    assistant: Staff
    officer: Staff
    today: date


def everybody() -> People:
    """The staff of the main gym, with a bench and a records room; the thresholds were adopted long ago."""
    site = a_site()
    adopted()
    return People(
        lead=a_lead(name="Marit Sandhollow", site=site),
        therapist=a_therapist(name="Runa Achterling", site=site, minutes_per_week=1200),
        colleague=a_therapist(name="Lucie Amberwick", site=site, minutes_per_week=900, authorised=["yielding"]),
        prosthetist=a_prosthetist(name="Ebo Lanterne", site=site),
        assistant=an_assistant(name="Pia Korrin", site=site),
        officer=a_records_officer(name="Fenna Inkersole", site=site),
        today=clock.local_day(clock.now(), site.time_zone),
    )


def the_weeks_before(therapist: Staff, episode: Episode) -> int:
    """Five careful sessions, twelve to three days ago, taken in by the one write path; returns how many facts.

    They end with three safe attempts of trusting the bending knee in the bars, all on one day: two are wanting, and
    another day.
    """
    course = Course()
    sessions = (careful.first_stand, careful.standing, careful.moving_weight, careful.releasing, careful.first_steps)
    for session in sessions:
        session(course)
    later = now().replace(hour=9, minute=0, second=0) - 12 * DAY - FIRST_DAY
    facts = [_fact(one, therapist, later) for one in course.entries if one["kind"] != "episode_opened"]
    taken = imported(therapist, episode, *facts)
    assert {verdict.outcome for verdict in taken.verdicts} == {"accepted"}
    assert taken.raised == []
    return len(facts)


def _fact(entry: dict[str, Any], therapist: Staff, later: timedelta) -> dict[str, Any]:
    left_out = {"episode", "role"}
    at = stamp(datetime.fromisoformat(entry["at"]) + later)
    kept = {name: value for name, value in entry.items() if name not in left_out}
    return {**kept, "id": str(uuid.uuid4()), "at": at, "by": therapist.reference}
