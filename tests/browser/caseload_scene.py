"""A busy morning at the invented clinic for lead and prosthetist: waits, loads, covers, requests, signed skills."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import time, timedelta

from caseload.models import AdjustmentRequest, Component, Episode, PlannedReview, Prosthesis
from caseload.visit.services import plan_visits
from clinic import clock
from clinic.models import Staff
from tests.makers import (
    a_cover,
    a_lead,
    a_person,
    a_prosthetist,
    a_referral,
    a_site,
    a_therapist,
    ago,
    an_authorisation,
    an_entry,
    an_episode,
    imported,
    now,
)

DAY = timedelta(days=1)
SIGNED = (
    *("don_check", "sit_stand", "stand_load", "weight_shift", "hip_drive", "swing_release", "short_steps"),
    *("even_walk", "turns", "backwards", "yield_load", "yield_slow", "ramp_up", "ramp_down", "stair_edge", "kneel"),
)


@dataclass(frozen=True, slots=True)
class Scene:
    """Who is there to be acted as, and about whom."""

    lead: Staff
    bench: Staff
    therapist: Staff
    episode: Episode
    request: AdjustmentRequest


def a_busy_morning() -> Scene:
    """Four therapists, five who wait, a dozen in care, one request that is a month old."""
    today = clock.local_day(clock.now(), "Europe/London")
    main, quay = a_site("Alder Reach"), a_site("Quay Street")
    lead = a_lead(name="Marit Sandhollow", site=main)
    runa = a_therapist(name="Runa Achterling", site=main, minutes_per_week=1200, authorised=["lock", "yielding"])
    an_authorisation(runa, "free_swing", expires_on=today + 14 * DAY)
    jonas = a_therapist(name="Jonas Wexthorn", site=main, minutes_per_week=900)
    lucie = a_therapist(name="Lucie Amberwick", site=quay, minutes_per_week=700, authorised=["lock", "yielding"])
    dele = a_therapist(name="Dele Morrowby", site=quay, minutes_per_week=300, authorised=["yielding"])
    bench = a_prosthetist(name="Ebo Lanterne", site=main)
    waits: Iterable[tuple[str, str, str, int, list[str], str]] = (
        ("Aurel", "Brindlecombe", "routine", 41, ["lock", "yielding"], "left"),
        ("Sunniva", "Kettleby", "routine", 33, ["lock", "free_swing", "yielding"], "right"),
        ("Ottoline", "Farrow-Reyes", "soon", 19, ["yielding"], "both"),
        ("Hamid", "Larkspar", "routine", 12, ["lock"], "left"),
        ("Petra", "Undermoor", "urgent", 3, [], "right"),
    )
    for given, family, urgency, days, features, side in waits:
        person = a_person(given_name=given, family_name=family, site=main)
        a_referral(person, urgency=urgency, received_on=today - days * DAY, features=features, side=side, taken_by=lead)
    names = ("Tamsin Oyelledge", "Halvard Quill", "Bertil Quaymor", "Nadia Ferrowe", "Ines Vartholm", "Osric Palewin")
    staff = (jonas, lucie, runa, dele, runa, dele)
    episodes = [
        an_episode(
            assigned_to=who,
            person=a_person(given_name=name.split()[0], family_name=name.split()[1], site=who.site),
            opened=ago(days=20 + 30 * number),
        )
        for number, (name, who) in enumerate(zip(names, staff, strict=True))
    ]
    tamsin, halvard, bertil, nadia = episodes[:4]
    signed = [an_entry("sign_off", skill=key, by=jonas, at=ago(days=9), seq=at) for at, key in enumerate(SIGNED)]
    imported(jonas, tamsin, *signed)
    _asked(halvard, lucie, "foot", "Toe catches in swing, foot in slight down-turn.", 31)
    request = _asked(tamsin, jonas, "resistance", "Yields too early on the slope: stiffer, please.", 1)
    _asked(nadia, dele, "socket", "Left socket: red edge at the rim.", 5)
    plan_visits(actor=jonas, episode_id=tamsin.pk, day=today + DAY, wall=time(16), weeks=4)
    PlannedReview.objects.create(episode=bertil, due_on=today - 7 * DAY, planned_by=runa, planned_at=ago(days=40))
    PlannedReview.objects.create(episode=tamsin, due_on=today + 5 * DAY, planned_by=jonas, planned_at=ago(days=9))
    for episode in (bertil, episodes[4]):
        a_cover(episode, lucie, start=now() - DAY, end=now() + 6 * DAY)
    leg = Prosthesis.objects.create(episode=tamsin, side="left", label="Day leg", resistance_low=1, resistance_high=10)
    Component.objects.create(prosthesis=leg, kind="foot", description="size 25", period=(today - 90 * DAY, None))
    return Scene(lead, bench, jonas, tamsin, request)


def _asked(episode: Episode, by: Staff, setting: str, text: str, days: int) -> AdjustmentRequest:
    return AdjustmentRequest.objects.create(
        episode=episode, setting=setting, text=text, asked_by=by, asked_at=ago(days=days)
    )
