"""Eight sessions on two tablets without a network, with pages and browsers killed at random, leave the record that the
same eight leave on line."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserType, expect
from pytest_django.live_server_helper import LiveServer

from caseload.models import Episode
from checklists.judged.models import Difference
from checklists.models import Alert
from checklists.person.heads import fold_of
from checklists.record.models import Entry
from clinic import clock
from clinic.outbox.drain import drain
from clinic.staff.models import Staff
from tests.browser.cable import Cable
from tests.browser.floor_hands import recorded
from tests.browser.off_line_gym import PATIENCE, Tablet, a_session, perform
from tests.browser.test_offline import on_device
from tests.makers import a_person, a_therapist, an_episode
from tests.web.test_today_page import a_visit

pytestmark = [pytest.mark.timeout(600), pytest.mark.cut_off]
SEED = 20_261_126
KILLS = 0.1
SESSIONS = 8
NAMES = (
    "Ines Vartholm",
    "Corin Ashgrove",
    "Mirel Oakes",
    "Tavi Lindqvarn",
    "Odile Farrowby",
    "Bram Hesketh",
    "Yuna Calloway",
    "Piet Morrow",
)

Gym = Callable[[Staff, str], Tablet]


@pytest.fixture
def cable(live_server: LiveServer) -> Iterator[Cable]:
    with Cable(live_server.url) as cable:
        yield cable


@pytest.fixture
def gym(
    browser_type: BrowserType, browser_type_launch_args: dict[str, Any], cable: Cable, tmp_path: Path
) -> Iterator[Gym]:
    """A tablet for somebody, by its name; each with a profile of its own."""
    tablets: list[Tablet] = []

    def tablet(staff: Staff, name: str) -> Tablet:
        one = Tablet(
            browser_type, browser_type_launch_args, tmp_path / name, cable.address, random.Random(f"{SEED} {name}")
        )
        tablets.append(one)
        one.switch_on()
        one.comes_in(staff)
        return one

    yield tablet
    cable.plug_in()
    for one in tablets:
        one.switch_off()


def eight(therapists: tuple[Staff, Staff], family: str) -> list[Episode]:
    """Four people for each therapist."""
    people = [a_person(given_name=name.split()[0], family_name=f"{name.split()[1]}{family}") for name in NAMES]
    episodes = [an_episode(assigned_to=therapists[number % 2], person=person) for number, person in enumerate(people)]
    for number, episode in enumerate(episodes):
        a_visit(episode, therapists[number % 2])
    return episodes


def test_a_day_without_a_network(gym: Gym, cable: Cable, capsys: pytest.CaptureFixture[str]) -> None:
    therapists = (a_therapist(name="Runa Achterling"), a_therapist(name="Joss Merrow"))
    off_line, on_line = eight(therapists, ""), eight(therapists, "-Brook")
    tablets = [gym(staff, name) for staff, name in zip(therapists, ("by the bars", "by the stairs"), strict=True)]
    for tablet in tablets:
        on_device(tablet.page)

    cable.pull()
    for number, episode in enumerate(off_line):
        perform(tablets[number % 2], episode, a_session(random.Random(number)), kills=KILLS)
    assert not Entry.objects.filter(episode__in=off_line, kind="attempt").exists(), "the cable was not pulled"
    cable.plug_in()
    for tablet, staff in zip(tablets, therapists, strict=True):
        _sends_everything(tablet, staff)
        for number, episode in enumerate(on_line):
            if therapists[number % 2] == staff:
                perform(tablet, episode, a_session(random.Random(number)))
        _sends_everything(tablet, staff)

    for one, other in zip(off_line, on_line, strict=True):
        left, right = _told(one), _told(other)
        for name in left:
            assert left[name] == right[name], name
    drain()
    assert not Difference.objects.exists(), "a tablet and the server judged the same facts differently"
    kills = {how: sum(tablet.kills[how] for tablet in tablets) for how in tablets[0].kills}
    facts = Entry.objects.filter(episode__in=off_line).count()
    kept = sum(tablet.kept_then for tablet in tablets)
    with capsys.disabled():
        print(
            f"\n{SESSIONS} sessions off line, {facts} facts, killed: {kills}, with {kept} facts kept at those times, "
            "all there afterwards; the record equals the one made on line"
        )
    assert all(kills.values()), kills


def _sends_everything(tablet: Tablet, staff: Staff) -> None:
    """On the page for the day's end; through the door again first, where the browser forgot who is signed in."""
    tablet.page.goto("/day-end/")
    if "/sign-in/" in tablet.page.url:
        tablet.comes_in(staff)
        tablet.page.goto("/day-end/")
    expect(tablet.page.locator("[data-unsent-words]")).to_have_text(
        "Everything that was recorded on this device is sent.", timeout=PATIENCE * 1000
    )


def _told(episode: Episode) -> dict[str, Any]:
    """The record without what must differ (ids, instants), and what it means."""
    facts = recorded(episode)
    place = {fact["id"]: number for number, fact in enumerate(facts)}
    fold, at = fold_of(Episode.objects.get(pk=episode.pk).head), clock.now()
    alerts = Alert.objects.filter(episode=episode, withdrawn_at__isnull=True).values_list("rule", "entry")
    return {
        "facts": [_bare(fact, place) for fact in facts],
        "statuses": {key: (said.status, said.run) for key, said in fold.statuses(at).items()},
        "knees": [(knee.knee, knee.mode, knee.proof) for knee in fold.knees()],
        "next": [(step.skill, step.support, step.help) for step in fold.next_steps(at)],
        "alerts": sorted((rule, place[str(entry)]) for rule, entry in alerts),
    }


def _bare(fact: dict[str, Any], place: dict[str, int]) -> dict[str, Any]:
    kept = {key: value for key, value in fact.items() if key not in ("id", "at", "seq", "episode", "clock_offset_s")}
    return {**kept, "entry": place[fact["entry"]]} if "entry" in fact else kept
