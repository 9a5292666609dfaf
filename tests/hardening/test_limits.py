"""How much may be asked in a while: counted, said, accounted for, and still there without a broker (ASVS V2.4.1)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from django.test import Client
from pytest_django.fixtures import Settings
from rest_framework.test import APIClient

from checklists.models import Entry
from clinic import clock
from clinic.models import TrailRow
from clinic.web import limits
from tests.api.conftest import Caller, calling
from tests.makers import a_lead, a_records_officer, a_therapist, an_attempt, an_episode, now

__all__ = ["calling"]
pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]
NOBODY = "redis://127.0.0.1:1/0"


@pytest.fixture(autouse=True)
def _few(settings: Settings) -> None:
    settings.CLOCK_CAN_BE_SET = True
    settings.LIMITS = {
        **dict.fromkeys(("page", "poll", "api", "caller", "stranger"), (5, 60)),
        "search": (2, 60),
        "export": (1, 3600),
    }


@pytest.fixture
def at_the_start_of_a_minute() -> Iterator[None]:
    """No minute ends between two requests."""
    start = now().replace(second=1)
    with clock.at_instant(start):
        yield


@pytest.fixture(params=["broker", "no broker"])
def _broker(request: pytest.FixtureRequest, settings: Settings, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """With a broker, and with one that does not answer: the limits hold either way."""
    if request.param == "no broker":
        settings.CACHE_URL = NOBODY
    monkeypatch.setattr(limits, "_spared_until", 0)
    monkeypatch.setattr(limits, "_memory", {})
    limits._broker.cache_clear()
    yield
    limits._broker.cache_clear()


@pytest.mark.usefixtures("_broker", "at_the_start_of_a_minute")
class TestHowOften:
    def test_a_page_is_refused_beyond_the_limit_with_when_to_come_back(self, enter: Enter) -> None:
        browser = enter(a_lead())
        answers = [browser.get("/password/") for _ in range(7)]
        assert [answer.status_code for answer in answers] == [200] * 5 + [429] * 2
        assert 0 < int(answers[-1].headers["Retry-After"]) <= 60
        assert "Too much at once" in answers[-1].content.decode()

    def test_one_account_does_not_use_up_anothers(self, enter: Enter) -> None:
        busy, calm = enter(a_lead()), enter(a_lead())
        for _ in range(7):
            busy.get("/password/")
        assert calm.get("/password/").status_code == 200

    def test_a_stranger_is_counted_by_address(self) -> None:
        answers = [Client().get("/sign-in/").status_code for _ in range(6)]
        assert answers == [200] * 5 + [429]
        assert Client(REMOTE_ADDR="192.0.2.9").get("/sign-in/").status_code == 200

    def test_a_stranger_with_a_whole_network_is_counted_once(self) -> None:
        near = [Client(REMOTE_ADDR=f"2001:db8:0:5::{number:x}").get("/sign-in/").status_code for number in range(6)]
        assert near == [200] * 5 + [429]
        assert Client(REMOTE_ADDR="2001:db8:0:6::1").get("/sign-in/").status_code == 200

    def test_a_header_that_says_token_buys_a_stranger_nothing_at_the_door(self, settings: Settings) -> None:
        settings.LIMITS = {**settings.LIMITS, "caller": (100, 60)}
        answers = [Client().get("/sign-in/", HTTP_AUTHORIZATION="Token x").status_code for _ in range(6)]
        assert answers == [200] * 5 + [429]

    def test_a_programme_is_counted_by_account_and_told_as_a_problem(self, calling: Caller, settings: Settings) -> None:
        settings.LIMITS = {**settings.LIMITS, "caller": (100, 60)}
        caller = calling(a_lead())
        answers = [caller.get("/api/v1/referrals/") for _ in range(6)]
        assert [answer.status_code for answer in answers] == [200] * 5 + [429]
        assert answers[-1].json()["code"] == "too_many"
        assert int(answers[-1].headers["Retry-After"]) > 0

    def test_guessing_tokens_is_counted_by_address(self) -> None:
        codes = [
            APIClient().get("/api/v1/referrals/", HTTP_AUTHORIZATION=f"Token {n:064}").status_code for n in range(6)
        ]
        assert codes == [401] * 5 + [429]

    def test_searching_people_and_taking_out_cost_more(self, enter: Enter) -> None:
        browser = enter(a_records_officer())
        assert [browser.get("/trail/").status_code for _ in range(3)] == [200, 200, 429]
        assert [browser.post("/trail/export/").status_code for _ in range(2)] == [200, 429]

    def test_the_first_one_too_many_leaves_one_row(self, enter: Enter) -> None:
        lead = a_lead()
        browser = enter(lead)
        for _ in range(9):
            browser.get("/password/")
        row = TrailRow.objects.get(verb="limit.reached")
        assert (row.actor, dict(row.detail)) == (lead, {"kind": "page", "most": 5})

    def test_what_is_refused_was_not_done(self, enter: Enter) -> None:
        therapist = a_therapist()
        episode = an_episode(assigned_to=therapist)
        browser, before = enter(therapist), Entry.objects.count()
        address = f"/api/v1/episodes/{episode.pk}/entries/"
        codes = [
            browser.post(address, {"entries": [an_attempt(at=now())]}, content_type="application/json").status_code
            for _ in range(7)
        ]
        assert codes.count(200) == Entry.objects.count() - before == 5


def test_the_next_minute_begins_anew(enter: Enter) -> None:
    start = now().replace(second=1)
    with clock.at_instant(start):
        browser = enter(a_lead())
        codes = [browser.get("/password/").status_code for _ in range(6)]
    with clock.at_instant(start + timedelta(minutes=1)):
        codes.append(browser.get("/password/").status_code)
    assert codes == [200] * 5 + [429, 200]


def test_a_broker_that_does_not_answer_is_not_asked_each_time(
    settings: Settings, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    settings.CACHE_URL = NOBODY
    monkeypatch.setattr(limits, "_spared_until", 0)
    monkeypatch.setattr(limits, "_memory", {})
    limits._broker.cache_clear()
    for _ in range(5):
        limits.count("page", "somebody", at=now())
    assert len([line for line in caplog.messages if "counted in this process" in line]) == 1
    with pytest.raises(limits.TooMany):
        limits.count("page", "somebody", at=now())
    limits._broker.cache_clear()


def test_without_a_broker_a_flood_of_names_frees_nobody_who_came_since(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.LIMITS = {**settings.LIMITS, "stranger": (1, 60)}
    monkeypatch.setattr(limits, "_spared_until", 10**12)
    monkeypatch.setattr(limits, "_memory", {})
    monkeypatch.setattr(limits, "MOST_KEYS", 3)
    at = now()
    for name in ("first", "second", "third", "fourth"):
        assert limits.count("stranger", name, at=at) == 1
    for name in ("second", "third", "fourth"):
        with pytest.raises(limits.TooMany):
            limits.count("stranger", name, at=at)
    assert limits.count("stranger", "first", at=at) == 1
