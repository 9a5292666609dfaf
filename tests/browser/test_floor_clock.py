"""What the Floor works out by itself, run in the browser and held against the programme: the knee's mode, the clock."""

from __future__ import annotations

import contextlib
import json
import random
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Page

from checklists.domain import Entry, EntryRefused, Episode, Protocol, parse_entry
from checklists.record import protocols
from tests.browser.conftest import Enter
from tests.makers import a_check, a_therapist, an_entry, an_episode, now, stamp

LOCAL = "/static/checklists/floor/local.js"
CARRIED_ON = """async ([module, pack, courses]) => {
    const { localCore } = await import(module);
    const staff = { reference: "S-1", name: "Runa Achterling" };
    return courses.map(({ opening, facts }) => {
        const core = localCore({ ...pack, entries: [JSON.stringify(opening)] }, staff);
        core.take(facts);
        return core.told().knees.map((knee) => [knee.mode, knee.proof]);
    });
}"""
CLOCK = "/static/checklists/floor/clock.js"
CHECKS = ("start_of_session", "end_of_session", "lock_in", "lock_out", "free_swing_on", "free_swing_off")


@pytest.fixture
def page(enter: Enter) -> Page:
    """Any page of somebody who is signed in: the modules are asked directly."""
    return enter(a_therapist(), "/people/")


def a_mode_fact(dice: random.Random, minute: int, *, both: bool) -> dict[str, Any]:
    """Any fact that may say something of a mode, complete or not, of one knee or of none in particular."""
    kind = dice.choice(("mode_set", "mode_checked", "check", "check", "setting_changed", "near_miss"))
    fields: dict[str, Any] = {}
    if kind in ("mode_set", "mode_checked"):
        fields["mode"] = dice.choice(("walking", "locked", "free_swing"))
        if kind == "mode_checked":
            fields["ok"] = dice.random() < 0.7
    elif kind == "check":
        whole = a_check(dice.choice(CHECKS))
        said = {step: dice.random() < 0.8 for step in whole["steps"] if dice.random() < 0.8}
        fields = {"name": whole["name"], "steps": said}
    elif kind == "setting_changed":
        fields = {"setting": dice.choice(("knee", "resistance"))}
        if fields["setting"] == "knee":
            fields["features"] = ["lock"]
    if both and kind != "near_miss" and fields.get("name") not in ("start_of_session", "end_of_session"):
        fields |= dice.choice(({}, {"knee": "left"}, {"knee": "right"}))
    return an_entry(kind, at=datetime(2026, 11, 2, 9, minute, tzinfo=UTC), **fields)


def taken(facts: list[dict[str, Any]], protocol: Protocol, *, both: bool) -> Iterator[Entry]:
    """Those that the server would take: with two prostheses a fact must say which knee it means."""
    for fact in facts:
        with contextlib.suppress(EntryRefused):
            yield parse_entry(fact, protocol, now=now(), both=both)


@pytest.mark.parametrize("side", ["left", "both"])
def test_the_knee_bar_carries_on_as_the_core_would(page: Page, side: str) -> None:
    """100 random courses of facts that are not sent yet: what the device makes of each equals the server's core."""
    version = an_episode(side=side).head.protocol
    protocol = protocols.loaded(version.pk)
    dice, courses, wanted = random.Random(20261125), [], []
    for _ in range(100):
        facts = [a_mode_fact(dice, minute, both=side == "both") for minute in range(dice.randint(1, 8))]
        opening = an_entry("episode_opened", at=datetime(2026, 11, 1, tzinfo=UTC), side=side, features=["lock"])
        opening |= {"protocol": "above_knee@1", "by": "S-1", "episode": "E-1"}
        stamped = [opening, *({**fact, "by": "S-1", "episode": "E-1"} for fact in facts)]
        entries = list(taken(stamped, protocol, both=side == "both"))
        core = Episode.replay(protocol, entries, reference="E-1").episode.knees()
        courses.append({"opening": opening, "facts": facts})
        wanted.append([[knee.mode, knee.proof] for knee in core])
    pack = {
        "reference": "E-1",
        "protocol": {"document": version.document, "digest": version.digest},
        "number": 1,
        "names": {},
        "zone": "Europe/London",
        "role": "therapist",
    }
    for course, drawn, meant in zip(courses, page.evaluate(CARRIED_ON, [LOCAL, pack, courses]), wanted, strict=True):
        assert drawn == meant, json.dumps(course)


@pytest.mark.parametrize(
    "instant", ["2026-07-01T23:30:00.250Z", "2026-12-31T23:59:59.999Z", "2026-10-25T01:30:00.000Z"]
)
@pytest.mark.parametrize("zone", ["Europe/London", "Asia/Kolkata", "America/St_Johns"])
def test_an_instant_is_written_with_the_sites_own_offset(page: Page, instant: str, zone: str) -> None:
    written = page.evaluate(
        "async ([module, at, zone]) => (await import(module)).written(new Date(at), zone)", [CLOCK, instant, zone]
    )
    meant = datetime.fromisoformat(instant).astimezone(ZoneInfo(zone))
    assert written == meant.isoformat(timespec="milliseconds")


def test_a_device_that_runs_ahead_is_set_right_and_says_by_how_much(page: Page) -> None:
    """Ten minutes ahead of the server: facts are stamped with the server's time and name the error."""
    at = stamp(datetime(2026, 11, 25, 10, 0, tzinfo=UTC))
    corrected, error = page.evaluate(
        """async ([module, at]) => {
            const clock = await import(module);
            const ahead = Date.parse(at) + 600_000;
            clock.learn(at, ahead, ahead + 80);
            return [Date.now() - clock.now().getTime(), clock.offsetSeconds()];
        }""",
        [CLOCK, at],
    )
    assert abs(corrected - 600_040) < 50
    assert abs(error - 600.04) < 0.05


def test_facts_of_one_act_share_the_instant_and_the_next_act_comes_after(page: Page) -> None:
    made = page.evaluate(
        """async (module) => {
            const { madeNow } = await import(module);
            return [madeNow([{ kind: "a" }, { kind: "b" }], "UTC"), madeNow([{ kind: "c" }], "UTC")].flat();
        }""",
        "/static/checklists/floor/entries.js",
    )
    first, second, third = made
    assert (first["at"], first["seq"] + 1) == (second["at"], second["seq"])
    assert (third["at"], third["seq"]) > (second["at"], second["seq"])
    assert len({one["id"] for one in made}) == 3
