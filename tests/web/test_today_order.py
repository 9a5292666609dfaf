"""In which order people stand on Today, and the line that says why: the rule alone, without a database."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from itertools import pairwise, permutations
from typing import Any
from uuid import UUID

import pytest

from checklists.today.order import GRAVITY, in_order
from checklists.today.rows import Call, Due

AT = datetime(2026, 11, 25, 10, 0, tzinfo=UTC)


def a_call(name: str, *, minutes: int = 0, state: str = "planned", due: tuple[str, ...] = (), **fields: Any) -> Call:
    """Somebody who comes so many minutes from now."""
    blank: dict[str, Any] = dict.fromkeys(
        ("state_words", "number", "second_identifier", "side", "features", "staff"), ""
    )
    empty: dict[str, Any] = {"treads": (), "next": None, "check_first": (), "since": ()}
    return Call(
        episode_id=UUID(int=sum(map(ord, name))),
        starts_at=AT + timedelta(minutes=minutes),
        minutes=45,
        state=state,
        person=name,
        age=40,
        due=[Due(kind, kind, f"{kind} of {name}") for kind in due],
        **blank,
        **empty,
        **fields,
    )


def names(*calls: Call) -> str:
    """The order, and that it does not hang on the order of asking."""
    found = {" ".join(call.person for call in in_order(order, at=AT)) for order in permutations(calls)}
    assert len(found) == 1
    return found.pop()


def why(*calls: Call) -> dict[str, str]:
    return {call.person: call.why for call in in_order(calls, at=AT)}


def test_who_is_here_stands_before_who_comes_next_and_who_is_through_stands_last() -> None:
    here, soon, later = a_call("here", minutes=-20, state="now"), a_call("soon", minutes=5), a_call("later", minutes=90)
    through, missed = a_call("through", minutes=-90, state="done"), a_call("xmissed", minutes=-60, state="missed")
    assert names(later, through, soon, here, missed) == "here soon later through xmissed"


def test_what_is_due_moves_nobody_before_the_person_at_the_bars() -> None:
    assert names(a_call("later", minutes=200, due=("alert",)), a_call("here", state="now")) == "here later"


@pytest.mark.parametrize(("graver", "lighter"), [*pairwise(GRAVITY)])
def test_the_graver_due_thing_stands_first_among_those_who_come_next(graver: str, lighter: str) -> None:
    first, second = a_call("late", minutes=40, due=(lighter, graver)), a_call("early", minutes=10, due=(lighter,))
    assert names(first, second) == "late early"


def test_what_is_due_stands_before_what_changed_and_that_before_the_clock() -> None:
    due, changed = a_call("due", minutes=40, due=("waiting",)), a_call("changed", minutes=30, changed=("x",))
    assert names(a_call("plain", minutes=10), changed, due) == "due changed plain"


def test_where_nothing_tells_them_apart_the_clock_does() -> None:
    assert names(a_call("second", minutes=20), a_call("first", minutes=10)) == "first second"


def test_next_is_the_hour_that_begins_with_the_first_who_is_still_to_come() -> None:
    """Looked at in the early morning, the first sessions are 'next', not everybody 'later'."""
    found = why(a_call("nine", minutes=120), a_call("ten", minutes=180), a_call("noon", minutes=300))
    assert found == {"nine": "Next", "ten": "Soon after", "noon": "Later today"}


def test_somebody_who_is_late_stands_with_the_next_and_it_is_said() -> None:
    found = why(a_call("late", minutes=-30), a_call("ten", minutes=10))
    assert found == {"late": "Planned time past, not begun", "ten": "Next"}


@pytest.mark.parametrize(
    ("ago", "words"),
    [
        (0, "Next"),
        (1, "Next, planned for 1 minute ago"),
        (7, "Next, planned for 7 minutes ago"),
        (10, "Next, planned for 10 minutes ago"),
        (11, "Planned time past, not begun"),
    ],
)
def test_from_the_first_minute_after_the_planned_time_it_is_said_how_long_ago_that_was(ago: int, words: str) -> None:
    assert why(a_call("ines", minutes=-ago)) == {"ines": words}


def test_so_it_is_for_whoever_is_not_the_first_of_them_and_the_order_stays() -> None:
    first, second, third = a_call("first", minutes=-7), a_call("second", minutes=-3), a_call("third", minutes=20)
    expected = {
        "first": "Next, planned for 7 minutes ago",
        "second": "Planned for 3 minutes ago",
        "third": "Soon after",
    }
    assert why(first, second, third) == expected
    assert names(first, second, third) == "first second third"
    assert why(a_call("here", minutes=-7, state="now")) == {"here": "In the gym now"}


def test_the_line_says_where_what_is_gravest_what_changed_and_how_much_more() -> None:
    changed = ("Knee resistance 4 to 5, yesterday by Ebo Lanterne", "1 entry, today by Ada")
    said = why(a_call("ines", due=("ready", "fall"), changed=changed))
    assert said["ines"] == f"Next · fall of ines · {changed[0]} · and 2 more"
