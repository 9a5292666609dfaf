"""What changed since somebody last opened a person, as Today says it."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client

from caseload.models import Episode, PlannedReview
from clinic.staff.models import Staff
from tests.makers import (
    a_check,
    a_fall,
    a_prosthetist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    now,
    recorded,
    stamp,
)
from tests.web.pages import page
from tests.web.test_today_page import a_visit

pytestmark = pytest.mark.django_db
Enter = Callable[[Staff], Client]
CHANGE = {"setting": "resistance", "from": "4", "to": "5"}


@pytest.fixture
def ines(runa: Staff) -> Episode:
    episode = an_episode(assigned_to=runa)
    a_visit(episode, runa)
    return episode


def why(client: Client) -> list[str]:
    """The line of each person, in the order of the sheet."""
    return re.findall(r'<p class="why">(.*?)</p>', page(client))


def opened(client: Client, episode: Episode) -> None:
    assert client.get(f"/people/{episode.pk}/").status_code == 200


def test_whom_one_never_opened_is_new_to_one_until_they_are_opened(enter: Enter, runa: Staff, ines: Episode) -> None:
    client = enter(runa)
    assert "New to you" in why(client)[0]
    opened(client, ines)
    assert why(client) == ["Next"]


def test_a_setting_changed_meanwhile_is_told_with_who_and_when_until_one_looks(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    client, ebo = enter(runa), a_prosthetist(name="Ebo Lanterne")
    opened(client, ines)
    recorded(ebo, ines, an_entry("setting_changed", by=ebo, at=ago(seconds=1), **CHANGE))
    assert "Resistance 4 to 5, today by Ebo Lanterne" in why(client)[0]
    opened(client, ines)
    assert why(client) == ["Next"]


def test_entries_of_somebody_else_are_counted_and_ones_own_are_not(enter: Enter, runa: Staff, ines: Episode) -> None:
    client, ada = enter(runa), an_assistant(name="Ada Quill")
    opened(client, ines)
    recorded(runa, ines, {**a_check(), "at": stamp(ago(minutes=2))})
    assert "entr" not in why(client)[0]
    recorded(ada, ines, an_attempt("don_check", "none", at=ago(seconds=1)))
    assert "1 entry, today by Ada Quill" in why(client)[0]


def test_what_was_struck_out_again_did_not_change(enter: Enter, runa: Staff, ines: Episode) -> None:
    client, ebo = enter(runa), a_prosthetist(name="Ebo Lanterne")
    opened(client, ines)
    change = an_entry("setting_changed", by=ebo, at=ago(seconds=2), **CHANGE)
    recorded(ebo, ines, change)
    recorded(ebo, ines, an_entry("struck_out", by=ebo, entry=change["id"], reason="wrong person"))
    assert "Resistance" not in why(client)[0]


def test_an_alert_of_somebody_elses_making_is_news_as_well_as_due(enter: Enter, runa: Staff, ines: Episode) -> None:
    client, ada = enter(runa), an_assistant()
    opened(client, ines)
    recorded(ada, ines, an_attempt("don_check", "none", at=ago(seconds=1)))
    assert "alert" in why(client)[0]


def test_a_fall_stands_before_a_review_and_both_before_the_clock(enter: Enter, runa: Staff, ines: Episode) -> None:
    reviewed, fell = an_episode(assigned_to=runa), an_episode(assigned_to=runa)
    client = enter(runa)
    for episode in (reviewed, fell):
        a_visit(episode, runa)
    for episode in (ines, reviewed, fell):
        opened(client, episode)
    overdue = now().date().replace(day=1)
    PlannedReview.objects.create(
        episode=reviewed, due_on=min(overdue, ago(days=3).date()), planned_by=runa, planned_at=ago(days=60)
    )
    recorded(runa, fell, {**a_fall(skill="stand_load"), "at": stamp(ago(minutes=1))})
    seen = page(client)
    places = [seen.index(f'href="/floor/{episode.pk}/"') for episode in (fell, reviewed, ines)]
    assert places == sorted(places)
    assert "Fall to review" in seen


def test_an_hour_by_which_something_is_to_be_shown_is_said(enter: Enter, runa: Staff, ines: Episode) -> None:
    recorded(runa, ines, an_entry("mode_set", mode="locked", at=ago(minutes=2)))
    assert re.search(r"By \d\d:\d\d: ", page(enter(runa)))
