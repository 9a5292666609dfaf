"""Today, since last time: what the bench answered to whatever was asked about somebody, each thing said once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.models import AdjustmentRequest, Episode, Visit
from caseload.request.services import ask_adjustment, decline_request, see_request
from checklists.episode.services import change_setting
from clinic.staff.models import Staff
from tests.makers import (
    a_prosthetist,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    imported,
    now,
    recorded,
    stamp,
)
from tests.web.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("at_noon")]
Enter = Callable[[Staff], Client]
SOCK = "first try one more stump sock for a week"


def a_comer(runa: Staff) -> Episode:
    """Somebody who comes today, and was here last three days ago."""
    episode = an_episode(assigned_to=runa)
    Visit.objects.create(episode=episode, site=episode.site, staff=runa, starts_at=now())
    imported(runa, episode, {**an_attempt("don_check", "none"), "by": runa.reference, "at": stamp(ago(days=3))})
    return episode


def asked(runa: Staff, episode: Episode, setting: str = "socket") -> AdjustmentRequest:
    return ask_adjustment(actor=runa, episode_id=episode.pk, setting=setting, text="It slips on the ramp.")


def told(client: Client) -> str:
    """What stands under since last time, of everybody."""
    return "".join(part.split("</div>")[0] for part in page(client).split('class="since"')[1:])


def changed(ebo: Staff, request: AdjustmentRequest, **said: Any) -> None:
    """The bench makes the change that was asked for."""
    told: dict[str, Any] = {"setting": request.setting, "to": "5", "request_id": request.pk, "version": 1, **said}
    change_setting(actor=ebo, episode_id=request.episode_id, **told)


@pytest.fixture
def runa() -> Staff:
    return a_therapist()


@pytest.fixture
def ebo() -> Staff:
    return a_prosthetist(name="Ebo Lanterne")


def test_what_the_bench_declined_is_told_with_its_answer_with_who_and_when(
    enter: Enter, runa: Staff, ebo: Staff
) -> None:
    request = asked(runa, a_comer(runa))
    assert "Nothing new" in told(enter(runa)), "what was asked is no answer"
    decline_request(actor=ebo, request_id=request.pk, version=1, reason=SOCK)
    seen = told(enter(runa))
    assert f"Socket: declined by the bench: “{SOCK}”, " in seen
    assert seen.count("(Ebo Lanterne)") == 1


def test_what_the_bench_will_see_to_is_told_until_it_is_answered(enter: Enter, runa: Staff, ebo: Staff) -> None:
    request = asked(runa, a_comer(runa))
    see_request(actor=ebo, request_id=request.pk, version=1, note="On Friday")
    assert "Socket: the bench will see to it: “On Friday”" in told(enter(runa))
    decline_request(actor=ebo, request_id=request.pk, version=2, reason=SOCK)
    seen = told(enter(runa))
    assert ("declined by the bench" in seen, "will see to it" in seen) == (True, False)


def test_a_change_that_was_asked_for_is_told_once_with_what_was_noted(enter: Enter, runa: Staff, ebo: Staff) -> None:
    request = asked(runa, a_comer(runa), "resistance")
    changed(ebo, request, before="4", note="Bars first")
    seen = told(enter(runa))
    assert "Resistance 4 to 5, done by the bench as asked: “Bars first”, " in seen
    assert (seen.count("<li>"), "Changed to" in seen) == (1, False)


def test_what_was_done_and_struck_out_is_not_told_as_done(enter: Enter, runa: Staff, ebo: Staff) -> None:
    request = asked(runa, episode := a_comer(runa))
    changed(ebo, request)
    request.refresh_from_db()
    recorded(ebo, episode, an_entry("struck_out", by=ebo, entry=str(request.entry), reason="Another person"))
    assert "Socket: done by the bench, and the change was struck out, " in told(enter(runa))


def test_a_change_of_before_the_last_session_that_answers_only_now_is_told(
    enter: Enter, runa: Staff, ebo: Staff
) -> None:
    request = asked(runa, a_comer(runa))
    changed(ebo, request, to="relined", made=ago(days=4))
    assert "Socket: done by the bench: “Changed to relined”" in told(enter(runa))


def test_what_was_answered_before_the_last_session_is_no_news(enter: Enter, runa: Staff, ebo: Staff) -> None:
    request = asked(runa, a_comer(runa))
    decline_request(actor=ebo, request_id=request.pk, version=1, reason=SOCK)
    AdjustmentRequest.objects.update(seen_at=ago(days=4), done_at=ago(days=4))
    assert "Nothing new" in told(enter(runa))


def test_whoever_sees_no_requests_reads_of_the_change_alone(enter: Enter, runa: Staff, ebo: Staff) -> None:
    episode = a_comer(runa)
    changed(ebo, asked(runa, episode, "resistance"), before="4")
    decline_request(actor=ebo, request_id=asked(runa, episode).pk, version=1, reason=SOCK)
    seen = told(enter(an_assistant(site=episode.site)))
    assert ("Resistance 4 to 5" in seen, "the bench" in seen) == (True, False)


def test_the_answers_about_ten_people_cost_no_more_statements_than_about_one(
    enter: Enter, runa: Staff, ebo: Staff
) -> None:
    client = enter(runa)
    counts: list[int] = []
    for people in (1, 9):
        for _number in range(people):
            request = asked(runa, a_comer(runa))
            decline_request(actor=ebo, request_id=request.pk, version=1, reason=SOCK)
        page(client)
        with CaptureQueriesContext(connection) as caught:
            assert told(client).count("declined by the bench") == people + len(counts)
        counts.append(len(caught))
    assert counts[1] <= counts[0]
