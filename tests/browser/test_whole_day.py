"""One walk through a whole day of the clinic as the five roles: real pages, the real database, a real worker, a real
mail server. Each step says what the person in front of the page sees."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from playwright.sync_api import Page, expect

from caseload.models import Episode, PlannedReview, Reminder
from caseload.review.reminders import scan_reviews
from checklists.models import Alert, Head
from clinic import clock
from clinic.staff.models import Staff
from tests.browser import day_bench, day_desk, day_gym
from tests.browser.conftest import Enter
from tests.browser.day_people import DAY, People, everybody, the_weeks_before
from tests.browser.floor_hands import Hand
from tests.chaos.background import Background, a_background, eventually
from tests.makers import a_code

pytestmark = pytest.mark.timeout(240)


@pytest.fixture
def background(monkeypatch: pytest.MonkeyPatch) -> Iterator[Background]:
    """The worker and the scheduler of a day like any other."""
    with a_background(monkeypatch) as there:
        there.run("worker")
        there.run("scheduler", SCAN_SECONDS="60")
        yield there


def test_a_whole_day_of_the_clinic(enter: Enter, background: Background, tmp_path: Path) -> None:
    people = everybody()
    lead = enter(people.lead, size="desk")
    day_desk.takes_a_referral(lead, people)
    episode = day_desk.assigns(lead, people)
    day_desk.arranges_cover_and_a_session(lead, people)
    the_weeks_before(people.therapist, episode)

    gym = enter(people.therapist)
    day_gym.reads_today(gym, episode)
    _a_session(Hand(gym), lead, gym.context.new_page())
    _the_mail_went_out(background, people, episode)

    day_gym.signs_off(gym, a_code(people.therapist))
    day_gym.asks_for_an_adjustment(gym)
    _the_bench(enter(people.prosthetist, size="desk"))
    day_gym.sees_what_fell_back(gym, episode)

    _an_assistant(enter(people.assistant), episode, people)
    _an_overdue_review(lead, gym, people, episode)
    _the_records_room(enter(people.officer, size="desk"), people.officer, episode, tmp_path)


def _a_session(hand: Hand, lead: Page, another: Page) -> None:
    """The skipped step is on the lead's and the therapist's other page before the session is closed."""
    day_gym.trains(hand)
    day_gym.locks_and_unlocks(hand)
    for page in (lead, another):
        with page.expect_response("**/alerts/tally/"):
            page.goto("/alerts/")
        expect(page.get_by_text("Nothing waits for an answer")).to_be_visible()
    day_gym.skips_a_step(hand)
    expect(another.locator("[data-tally]")).to_contain_text("1", timeout=day_desk.WITHIN)
    day_desk.hears_and_answers(lead)
    day_gym.puts_it_right_and_closes(hand)
    another.close()


def _the_mail_went_out(background: Background, people: People, episode: Episode) -> None:
    """To the therapist and the lead, and to nobody else."""

    def sent() -> list[str]:
        return sorted(one["To"] for one in background.mail.messages if one["Subject"].startswith("Critical"))

    assert eventually(lambda: sent() == sorted([people.therapist.email, people.lead.email]), 20), background.log()
    for letter in background.mail.messages:
        day_desk.says_nothing_about_the_person(letter, episode)


def _the_bench(page: Page) -> None:
    day_bench.registers_the_prosthesis(page)
    day_bench.changes_the_resistance(page)


def _an_assistant(page: Page, episode: Episode, people: People) -> None:
    day_gym.assists(page, people)
    day_gym.cannot_sign(page, episode)


def _an_overdue_review(lead: Page, gym: Page, people: People, episode: Episode) -> None:
    """Due eight days ago: each rung of the ladder is reached once, the last one is the lead's."""
    at, due_on = clock.now(), people.today - 8 * DAY
    planned = {"planned_by": people.therapist, "planned_at": at - timedelta(days=12)}
    review = PlannedReview.objects.create(episode=episode, due_on=due_on, **planned)
    for days in (-3, 0, 1, 8, 8):
        scan_reviews(at + (days - 8) * DAY)
    rungs = Reminder.objects.filter(review=review).order_by("pk").values_list("rung", flat=True)
    assert list(rungs) == ["due_soon", "due", "overdue", "escalated"]
    day_desk.sees_what_is_overdue(lead)
    day_gym.records_the_review(gym, people, episode)
    lead.reload()
    expect(lead.get_by_role("region", name="Overdue")).not_to_contain_text("Routine review")


def _the_records_room(page: Page, officer: Staff, episode: Episode, folder: Path) -> None:
    day_desk.finds_the_day_in_the_trail(page, episode)
    told = {(verb.replace(": ", ".").replace(" ", "_"), who) for verb, who in day_desk.TOLD}
    assert told <= day_desk.takes_the_trail_out(page, folder)
    day_desk.can_change_nothing(page, episode)
    _replays_to_the_same(officer, episode, folder)


def _replays_to_the_same(officer: Staff, episode: Episode, folder: Path) -> None:
    """The exported record, replayed without the database, comes to the alerts and statuses that are stored."""
    file, out = folder / "record.jsonl", io.StringIO()
    call_command("export_record", str(file), episode=[episode.reference], username=officer.username)
    call_command("replay", "checklists/protocols/above_knee.json", str(file), stdout=out)
    report = json.loads(out.getvalue())
    stored = Alert.objects.filter(episode=episode, open=True).values_list("rule", "entry", "severity")
    told = {(one["rule"], one["entry"], one["severity"]) for one in report["alerts"]}
    assert told == {(rule, str(entry), severity) for rule, entry, severity in stored}
    assert {rule for rule, *_ in told} == {"lock_verified"}
    board = Head.objects.get(episode=episode).board["skills"]
    assert report["skills"] == {key: one["status"] for key, one in board.items()}
    assert report["skills"]["yield_load"] == "suspended"
