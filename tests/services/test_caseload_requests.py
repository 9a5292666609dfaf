"""What is asked of the bench: asked, seen, done or declined; and two people who have one request open."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier

import pytest
from django.db import connection

from caseload.models import AdjustmentRequest, Episode
from caseload.request.selectors import open_requests, requests_of_episode
from caseload.request.services import ask_adjustment, decline_request, reword_request, see_request
from checklists.alerts.handlers import tell_answered
from checklists.alerts.models import Notice
from clinic import clock
from clinic.errors import Conflict, Denied, Invalid, NotFound, Stale
from clinic.models import OutboxRow, Staff
from tests.makers import a_cover, a_lead, a_prosthetist, a_therapist, ago, an_assistant, an_episode, now

pytestmark = pytest.mark.django_db
TEXT = "Yields too early on the slope: stiffer, please."


def asked(mine: Staff | None = None) -> tuple[AdjustmentRequest, Staff, Episode]:
    mine = mine or a_therapist(name="Jonas Wexthorn")
    episode = an_episode(assigned_to=mine)
    return ask_adjustment(actor=mine, episode_id=episode.pk, setting="resistance", text=TEXT), mine, episode


def test_a_request_reaches_the_bench_and_the_outbox() -> None:
    request, _, _ = asked()
    (row,) = open_requests(a_prosthetist(), at=clock.now())
    assert (row.text, row.state, row.days, row.therapist) == (TEXT, "asked", 0, "Jonas Wexthorn")
    assert OutboxRow.objects.filter(topic="request.asked", payload__request=str(request.pk)).exists()


def test_a_request_stands_out_after_four_weeks() -> None:
    request, _, _ = asked()
    ages = []
    for days in (27, 28):
        AdjustmentRequest.objects.filter(pk=request.pk).update(asked_at=now() - timedelta(days=days))
        ages.append(open_requests(a_prosthetist(), at=clock.now())[0].is_old)
    assert ages == [False, True]


def test_two_people_edit_one_request_and_the_second_is_told_what_changed() -> None:
    request, mine, episode = asked()
    cover = a_therapist()
    a_cover(episode, cover, start=now() - timedelta(days=1), end=None)
    reword_request(actor=mine, request_id=request.pk, version=1, setting="alignment", text=TEXT)
    with pytest.raises(Stale) as caught:
        reword_request(actor=cover, request_id=request.pk, version=1, setting="resistance", text="Softer, please.")
    assert caught.value.reasons[0].startswith("Jonas Wexthorn, ")
    assert caught.value.reasons[0].endswith("reworded (setting)")
    request.refresh_from_db()
    assert (request.setting, request.text) == ("alignment", TEXT)


def test_the_bench_that_declines_what_was_reworded_meanwhile_is_told() -> None:
    request, mine, _ = asked()
    bench = a_prosthetist()
    reword_request(actor=mine, request_id=request.pk, version=1, setting="resistance", text="Much stiffer, please.")
    with pytest.raises(Stale):
        decline_request(actor=bench, request_id=request.pk, version=1, reason="Stiff enough.")
    request.refresh_from_db()
    assert request.state == "asked"


def test_seen_then_declined_with_a_reason_and_whoever_asked_hears_of_it() -> None:
    request, mine, episode = asked()
    bench = a_prosthetist(name="Ebo Lanterne")
    see_request(actor=bench, request_id=request.pk, version=1)
    decline_request(actor=bench, request_id=request.pk, version=2, reason="The socket must be seen to first.")
    (row,) = requests_of_episode(mine, episode.pk, at=clock.now())
    assert (row.state, row.seen_by, row.done_by) == ("declined", "Ebo Lanterne", "Ebo Lanterne")
    assert row.answer == "The socket must be seen to first."
    assert OutboxRow.objects.get(topic="request.answered").payload["staff"] == str(mine.pk)


def test_what_is_answered_is_not_answered_again() -> None:
    request, mine, _ = asked()
    bench = a_prosthetist(name="Ebo Lanterne")
    decline_request(actor=bench, request_id=request.pk, version=1, reason="Stiff enough.")
    with pytest.raises(Conflict, match="Ebo Lanterne has answered"):
        decline_request(actor=bench, request_id=request.pk, version=2, reason="Again.")
    with pytest.raises(Conflict):
        reword_request(actor=mine, request_id=request.pk, version=2, setting="foot", text="Another foot.")


def test_declining_without_a_reason_is_refused() -> None:
    request, _, _ = asked()
    with pytest.raises(Invalid):
        decline_request(actor=a_prosthetist(), request_id=request.pk, version=1, reason="  ")


@pytest.mark.parametrize("text", ["a\0b", "a\ud800b", "x" * 5_000_000])
def test_a_text_that_no_record_can_keep_is_refused(text: str) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    with pytest.raises(Invalid) as caught:
        ask_adjustment(actor=mine, episode_id=episode.pk, setting="foot", text=text)
    assert caught.value.reasons[0].startswith("text: ")
    assert not AdjustmentRequest.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_of_two_who_answer_one_request_at_once_one_is_told() -> None:
    request, _, _ = asked()
    gate, staff = Barrier(2), [a_prosthetist(), a_prosthetist()]

    def decline(one: Staff) -> str:
        try:
            gate.wait(5)
            decline_request(actor=one, request_id=request.pk, version=1, reason="Stiff enough.")
        except (Stale, Conflict) as refusal:
            return refusal.code
        finally:
            connection.close()
        return "declined"

    with ThreadPoolExecutor(2) as pool:
        assert sorted(pool.map(decline, staff)) == ["declined", "stale"]
    assert OutboxRow.objects.filter(topic="request.answered").count() == 1


def test_who_may_not_ask_or_answer_is_refused() -> None:
    request, mine, episode = asked()
    with pytest.raises(Denied):
        see_request(actor=mine, request_id=request.pk, version=1)
    with pytest.raises(Denied):
        ask_adjustment(actor=an_assistant(site=episode.site), episode_id=episode.pk, setting="foot", text=TEXT)
    with pytest.raises(NotFound):
        ask_adjustment(actor=a_therapist(), episode_id=episode.pk, setting="foot", text=TEXT)
    assert open_requests(a_therapist(), at=clock.now()) == []
    assert len(open_requests(a_lead(), at=clock.now())) == 1


@pytest.mark.parametrize(("setting", "text"), [("colour", TEXT), ("foot", "   ")])
def test_a_request_that_does_not_fit_is_refused(setting: str, text: str) -> None:
    mine = a_therapist()
    episode = an_episode(assigned_to=mine)
    with pytest.raises(Invalid):
        ask_adjustment(actor=mine, episode_id=episode.pk, setting=setting, text=text)
    assert not AdjustmentRequest.objects.exists()


def test_whoever_stands_in_hears_of_the_answer_as_well_as_whoever_asked() -> None:
    jonas, lucie = a_therapist(), a_therapist()
    episode = an_episode(assigned_to=jonas)
    asked = ask_adjustment(actor=jonas, episode_id=episode.pk, setting="resistance", text="softer")
    a_cover(episode, lucie, start=ago(hours=1), end=None)
    tell_answered({"request": str(asked.pk), "episode": str(episode.pk)}, now())
    told = Notice.objects.filter(topic="request.answered").values_list("staff", flat=True)
    assert set(told) == {jonas.pk, lucie.pk}
