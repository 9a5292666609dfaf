"""What a page can do, the API can do, and both give the same answer: one table of cases, run through both doors.

Each case is made twice, afresh, so that what the first door did does not colour the second. Done is done at both; a
refusal has the same status at both, and the sentence that the API gives as `detail` stands on the page.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from clinic.staff.models import Staff
from tests.api.conftest import Caller
from tests.makers import (
    PASSWORD,
    a_code,
    a_cover,
    a_fall,
    a_lead,
    a_prosthetist,
    a_referral,
    a_therapist,
    ago,
    an_attempt,
    an_episode,
    in_through_the_door,
    now,
    recorded,
)

TOMORROW, NEXT_WEEK = now().date() + timedelta(days=1), now().date() + timedelta(days=7)


@dataclass(frozen=True)
class Case:
    """Who asks for what, at either door. `method` and `headers` are of the API."""

    actor: Staff
    page: str
    form: dict[str, Any] | None
    api: str
    body: dict[str, Any] | None
    method: str = "post"
    headers: dict[str, str] = field(default_factory=dict)


def open_own() -> Case:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    return Case(therapist, f"/people/{episode.pk}/", None, f"episodes/{episode.pk}/", None, "get")


def open_anothers() -> Case:
    episode = an_episode()
    return Case(a_therapist(), f"/people/{episode.pk}/", None, f"episodes/{episode.pk}/", None, "get")


def ask_bench() -> Case:
    therapist = a_therapist()
    key = an_episode(assigned_to=therapist).pk
    asked = {"setting": "resistance", "text": "Yields too quickly on the ramp."}
    return Case(therapist, f"/people/{key}/plan/requests/", asked, f"episodes/{key}/requests/", asked)


def ask_bench_about_anothers() -> Case:
    key, asked = an_episode().pk, {"setting": "resistance", "text": "Yields too quickly."}
    return Case(a_therapist(), f"/people/{key}/plan/requests/", asked, f"episodes/{key}/requests/", asked)


def plan_review_in_the_past() -> Case:
    therapist = a_therapist()
    key = an_episode(assigned_to=therapist).pk
    wanted = {"due_on": (now().date() - timedelta(days=3)).isoformat(), "kind": "routine"}
    return Case(therapist, f"/people/{key}/plan/reviews/", wanted, f"episodes/{key}/planned-reviews/", wanted)


def plan_review() -> Case:
    therapist = a_therapist()
    key = an_episode(assigned_to=therapist).pk
    wanted = {"due_on": NEXT_WEEK.isoformat(), "kind": "routine"}
    return Case(therapist, f"/people/{key}/plan/reviews/", wanted, f"episodes/{key}/planned-reviews/", wanted)


def cover_that_overlaps() -> Case:
    episode = an_episode()
    a_cover(episode, a_therapist(), start=ago(days=1), end=now() + timedelta(days=9))
    wanted = {"staff_id": str(a_therapist().pk), "first_day": TOMORROW.isoformat(), "last_day": NEXT_WEEK.isoformat()}
    body = {**wanted, "episode_id": str(episode.pk)}
    return Case(a_lead(), f"/people/{episode.pk}/plan/cover/", wanted, "covers/", body)


def cover_by_somebody_who_is_away() -> Case:
    """Not asked for in so many words, it is refused."""
    episode, away = an_episode(), a_therapist()
    a_cover(an_episode(assigned_to=away), a_therapist(), start=ago(days=1), end=now() + timedelta(days=9))
    wanted = {"staff_id": str(away.pk), "first_day": str(TOMORROW), "last_day": str(NEXT_WEEK)}
    body = {**wanted, "episode_id": str(episode.pk)}
    return Case(a_lead(), f"/people/{episode.pk}/plan/cover/", wanted, "covers/", body)


def pause_as_stranger() -> Case:
    key, wanted = an_episode().pk, {"reason": "An operation", "first_day": TOMORROW.isoformat()}
    return Case(a_therapist(), f"/people/{key}/plan/pause/", wanted, f"episodes/{key}/pauses/", wanted)


def take_referral_as_therapist() -> Case:
    therapist = a_therapist()
    person = {"second_identifier": "X1", "given_name": "Rowan", "family_name": "Ellis", "born_on": "1960-01-01"}
    details = {
        "received_on": now().date().isoformat(),
        "reason": "To walk.",
        "urgency": "soon",
        "level": "transfemoral",
        "side": "left",
        "features": ["yielding"],
    }
    site = str(therapist.site_id)
    form = {**person, **details, "site_id": site, "language": "en"}
    body = {"site_id": site, "details": details, "person": person}
    return Case(therapist, "/caseload/referrals/", form, "referrals/", body)


def end_referral_twice_edited() -> Case:
    referral = a_referral()
    lead = a_lead()
    form = {"version": "7", "reason": "Moved away"}
    body = {"reason": "Moved away"}
    headers = {"HTTP_IF_MATCH": '"7"'}
    key = referral.pk
    return Case(lead, f"/caseload/referrals/{key}/end/", form, f"referrals/{key}/end/", body, headers=headers)


def sign_what_is_not_proven() -> Case:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_attempt("sit_stand"))
    return _signature(therapist, episode.pk, PASSWORD)


def sign_with_a_wrong_password() -> Case:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, an_attempt("sit_stand"))
    return _signature(therapist, episode.pk, "not this one, surely")


def sign_as_prosthetist() -> Case:
    return _signature(a_prosthetist(), an_episode().pk, PASSWORD, digest="0" * 64)


def _signature(actor: Staff, key: Any, password: str, digest: str = "") -> Case:
    from checklists.signoff.services import readiness

    shown = digest or readiness(actor=actor, episode_id=key, skill="sit_stand").digest
    sent = {"digest": shown, "meaning": "approval", "password": password}
    form, body = sent | {"one_time_code": a_code(actor)}, sent | {"code": a_code(actor)}
    return Case(actor, f"/people/{key}/sign-off/sit_stand/", form, f"episodes/{key}/sign-offs/sit_stand/", body)


def answer_an_alert() -> Case:
    return _answer(a_therapist, "Sat down, looked at the skin, told the lead.")


def _answer(who: Callable[[], Staff], text: str) -> Case:
    therapist = who()
    episode = an_episode(assigned_to=therapist)
    fall = a_fall(at=ago(days=5))
    recorded(therapist, episode, fall, an_attempt("stand_load", "none", help="watching"))
    attempt = recorded(therapist, episode, broken := an_attempt("sit_stand", "none", help="alone"))
    assert attempt.verdicts[0].alerts
    act = broken["id"]
    form, body = {"text": text}, {"text": text}
    return Case(therapist, f"/alerts/{episode.pk}/{act}/", form, f"episodes/{episode.pk}/acts/{act}/answered/", body)


def read_the_trail_as_therapist() -> Case:
    return Case(a_therapist(), "/trail/", None, "trail/", None, "get")


def see_the_staff_as_assistant() -> Case:
    return Case(a_therapist(), "/staff/", None, "staff/", None, "get")


DONE, MISSING, DENIED, CONTRADICTED, STALE, SENSELESS = 200, 404, 403, 409, 412, 422
CASES: list[tuple[Callable[[], Case], int]] = [
    (open_own, DONE),
    (open_anothers, MISSING),
    (ask_bench, DONE),
    (ask_bench_about_anothers, MISSING),
    (plan_review, DONE),
    (plan_review_in_the_past, SENSELESS),
    (cover_that_overlaps, CONTRADICTED),
    (cover_by_somebody_who_is_away, CONTRADICTED),
    (pause_as_stranger, MISSING),
    (take_referral_as_therapist, DENIED),
    (end_referral_twice_edited, STALE),
    (sign_what_is_not_proven, CONTRADICTED),
    (sign_with_a_wrong_password, DENIED),
    (sign_as_prosthetist, DENIED),
    (answer_an_alert, DONE),
    (read_the_trail_as_therapist, DENIED),
    (see_the_staff_as_assistant, DENIED),
]


@pytest.mark.parametrize(("make", "expected"), CASES, ids=lambda value: getattr(value, "__name__", ""))
def test_both_doors_give_one_answer(make: Callable[[], Case], expected: int, calling: Caller) -> None:
    """Done at both, or refused at both with the same status and sentence."""
    case = make()
    send = getattr(calling(case.actor), case.method)
    by_api = send(f"/api/v1/{case.api}", *([case.body] if case.body is not None else []), **case.headers)
    case = make()
    browser = Client()
    in_through_the_door(browser, case.actor)
    by_page = browser.get(case.page) if case.form is None else browser.post(case.page, case.form)
    if expected == DONE:
        assert (by_api.status_code in (200, 201, 204), by_page.status_code in (200, 302)) == (True, True)
        return
    assert (by_api.status_code, by_page.status_code) == (expected, expected)
    assert _bare(by_api.json()["detail"]) in _bare(html.unescape(by_page.content.decode()))


def _bare(text: str) -> str:
    """Without numbers: the case was made twice, and the makers number their people."""
    return re.sub(r"[0-9]+", "#", text)
