"""Stairs and slopes today: what may be done, on what and with whom, and what holds only after a check."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from caseload.models import Episode
from clinic.staff.models import Staff
from tests.makers import (
    a_check,
    a_fall,
    a_prosthetist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    imported,
    recorded,
)
from tests.web.pages import page
from tests.web.test_person_page import signed

pytestmark = pytest.mark.django_db
Enter = Callable[[Staff], Client]


def climbed(by: Staff, *skills: str, days: int = 40) -> list[dict[str, object]]:
    """Skills signed off long before, as an import brings them."""
    return [signed(by, skill, days=days) for skill in skills]


ROWS, LIST = ('id="h-stairs"', "</ul>"), ("data-reasons", "</ol>")  # where each begins and ends
LEVEL = ["don_check", "sit_stand", "stand_load", "weight_shift"]
LEVEL += ["hip_drive", "swing_release", "short_steps", "even_walk"]


def way(client: Client, episode: Episode, skill: str) -> Any:
    """What the page says of one skill under “Stairs and slopes today”."""
    stairs = client.get(f"/people/{episode.pk}/").context["page"].stairs
    return next(one for one in stairs.ways if one.skill == skill)


def test_what_waits_for_another_skill_is_not_now_and_says_for_which(enter: Enter, runa: Staff, ines: Episode) -> None:
    imported(runa, ines, *climbed(runa, *LEVEL), an_attempt("even_walk", "none", at=ago(days=2), by=runa))
    client = enter(runa)
    down = way(client, ines, "stair_down")
    assert (down.verdict, down.how) == ("not_now", "")
    assert "Not yet signed off, or no longer current: " in down.why[0]
    seen = page(client, f"/people/{ines.pk}/")
    assert "Stairs and slopes today" in seen
    assert all(sentence in seen for sentence in down.why), "unshortened"
    assert seen.index("Stairs and slopes today") < seen.index('class="stairs"')


def test_what_is_being_learned_is_only_with_us_and_says_on_what(enter: Enter, runa: Staff, ines: Episode) -> None:
    imported(runa, ines, *climbed(runa, *LEVEL), an_attempt("even_walk", "none", at=ago(days=2), by=runa))
    up = way(enter(runa), ines, "stair_up")
    assert (up.verdict, up.how) == ("with_us", "contralateral rail (right hand), watching")
    assert up.why == ("0 of 3 safe attempts in a row (on the contralateral rail, stage 1 of 2).",)


def test_what_is_signed_off_is_theirs_to_do_as_far_as_the_core_lets_them(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    given: dict[str, Any] = {"at": ago(days=2), "by": runa, "help": "watching"}
    rails = [an_attempt("stair_up", rung, **given) for rung in ("contralateral_rail", "ipsilateral_rail")]
    client = enter(runa)
    imported(runa, ines, *climbed(runa, *LEVEL, "stair_up"), rails[0])
    assert (way(client, ines, "stair_up").verdict, way(client, ines, "stair_up").how) == (
        "alone",
        "ipsilateral rail (left hand)",
    )
    slipped = {**given, "result": "unsafe", "at": ago(days=1)}
    imported(runa, ines, an_attempt("stair_up", "contralateral_rail", **slipped))
    up = way(client, ines, "stair_up")
    assert (up.verdict, up.how) == ("alone", "contralateral rail (right hand)")
    assert "No further yet" in up.why[-1]


def test_whatever_has_evidence_behind_it_leads_there_as_it_does_in_the_list_of_all_skills(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    imported(runa, ines, *climbed(runa, *LEVEL, "stair_up"), an_attempt("even_walk", "none", at=ago(days=2), by=runa))
    titles = {tread.key: tread.title for tread in enter(runa).get(f"/people/{ines.pk}/").context["page"].treads}
    seen = page(enter(runa), f"/people/{ines.pk}/")
    stairs, listed = (seen[seen.index(at) :].partition(end)[0] for at, end in (ROWS, LIST))
    up = (
        f'href="/people/{ines.pk}/sign-off/stair_up/">evidence<span class="unseen"> for {titles["stair_up"]}</span></a>'
    )
    assert (stairs.count(up), listed.count(up)) == (1, 1)
    assert ("/sign-off/stair_down/" in stairs, "/sign-off/stair_down/" in listed) == (False, False), "it is blocked"
    assert ">evidence<" not in page(enter(an_assistant()), f"/people/{ines.pk}/"), "theirs it is not to sign"


def test_a_fall_that_waits_for_its_review_keeps_everybody_off_the_stairs(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    imported(runa, ines, *climbed(runa, *LEVEL, "stair_up"), a_fall(at=ago(days=1), by=runa))
    client = enter(runa)
    up, stairs = way(client, ines, "stair_up"), client.get(f"/people/{ines.pk}/").context["page"].stairs
    assert up.verdict == "not_now"
    assert any("fall" in sentence for sentence in (*up.why, *stairs.shared))


def test_what_keeps_all_of_them_shut_is_said_once(enter: Enter, runa: Staff, ines: Episode) -> None:
    imported(runa, ines, *climbed(runa, *LEVEL), a_fall(at=ago(days=1), by=runa))
    client = enter(runa)
    stairs = client.get(f"/people/{ines.pk}/").context["page"].stairs
    shut = [one for one in stairs.ways if one.verdict == "not_now"]
    assert len(shut) > 1
    assert stairs.shared
    assert not any(sentence in one.why for one in shut for sentence in stairs.shared)
    seen = page(client, f"/people/{ines.pk}/")
    block = seen[seen.index('id="h-stairs"') :].partition("</ul>")[0]
    assert [block.count(sentence) for sentence in stairs.shared] == [1] * len(stairs.shared)


def test_what_is_allowed_only_after_a_check_says_so_in_its_row_and_is_no_yes_before(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    imported(runa, ines, *climbed(runa, *LEVEL, "stair_up"))
    recorded(runa, ines, a_check())
    client = enter(runa)
    before = way(client, ines, "stair_up")
    assert (before.verdict, before.mark, before.words) == ("alone", "signed_off", "yes, also at home")
    imported(a_prosthetist(), ines, an_entry("setting_changed", setting="resistance", to="5", at=ago(minutes=1)))
    up = way(client, ines, "stair_up")
    seen = page(client, f"/people/{ines.pk}/")
    row = seen[seen.index('id="h-stairs"') :].partition("</ul>")[0]
    assert "not before the check in the bars; after it: yes, also at home" in row
    assert (up.mark, "is-signed_off" in row) == ("waiting", False)
    recorded(runa, ines, an_attempt("yield_load", "bars_both", help="stand_by"))
    assert way(client, ines, "stair_up").mark == "signed_off"


def test_the_start_check_comes_before_a_yes(enter: Enter, runa: Staff, ines: Episode) -> None:
    imported(runa, ines, *climbed(runa, *LEVEL, "stair_up"), an_attempt("even_walk", "none", at=ago(days=2), by=runa))
    client = enter(runa)
    up = way(client, ines, "stair_up")
    assert up.words == "not before the start check; after it: yes, also at home"
    assert up.first == (), "what stands under Check first is not said again in the row"
    recorded(runa, ines, a_check())
    assert way(client, ines, "stair_up").words == "yes, also at home"


def test_after_a_long_break_each_row_says_what_comes_first_and_what_holds_then(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    """Nobody reads a 'not now' that is another thing after the first minutes of the session."""
    imported(runa, ines, *climbed(runa, *LEVEL), an_attempt("even_walk", "none", at=ago(days=35), by=runa))
    client = enter(runa)
    up = way(client, ines, "stair_up")
    assert (up.words, up.mark) == (
        "not before the start check and an attempt in the bars; after it: only with us",
        "waiting",
    )
    assert "Make the first attempt after the break in the bars." in page(client, f"/people/{ines.pk}/")
    recorded(runa, ines, a_check(at=ago(minutes=3)), an_attempt("even_walk", "bars_both", by=runa))
    now = way(client, ines, "stair_up")
    assert (now.words, now.how) == ("only with us", up.how)


def test_what_a_therapist_has_to_lead_first_says_so_to_an_assistant_in_its_row(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    imported(runa, ines, *climbed(runa, *LEVEL), an_attempt("even_walk", "none", at=ago(days=2), by=runa))
    up = way(enter(an_assistant()), ines, "stair_up")
    assert (up.verdict, up.words) == (
        "led",
        "not before the start check; after it: only with a therapist, as none has led it yet",
    )
    assert way(enter(runa), ines, "stair_up").verdict == "with_us"
    imported(runa, ines, an_attempt("stair_up", "contralateral_rail", help="watching", at=ago(days=1), by=runa))
    assert way(enter(an_assistant()), ines, "stair_up").verdict == "with_us"
