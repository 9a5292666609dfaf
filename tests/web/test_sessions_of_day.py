"""The sessions of a day, folded from its facts: what was opened, closed and checked."""

from __future__ import annotations

from typing import Any

from checklists.floor.sessions import Session, sessions_of

OPENED, CLOSED = {"kind": "session_opened"}, {"kind": "session_closed"}
TRY = {"kind": "attempt"}


def a_check(name: str, *, good: bool = True) -> dict[str, Any]:
    return {"kind": "check", "name": name, "steps": {"mode": good, "skin": True}}


START, END = a_check("start_of_session"), a_check("end_of_session")


def folded(*facts: dict[str, Any]) -> list[Session]:
    return sessions_of([{"id": str(n), "at": str(n), **fact} for n, fact in enumerate(facts)])


def test_a_whole_session() -> None:
    assert folded(OPENED, START, TRY, TRY, END, CLOSED) == [Session("0", "5", "good", "good", 2)]


def test_two_sessions_of_one_day_are_told_apart() -> None:
    first, second = folded(OPENED, START, CLOSED, OPENED, TRY)
    assert (first.start, first.end, first.is_open) == ("good", "", False)
    assert (second.start, second.attempts, second.is_open) == ("", 1, True)


def test_an_end_check_after_the_closing_is_that_of_the_session_that_was_closed() -> None:
    assert folded(OPENED, START, CLOSED, END) == [Session("0", "2", "good", "good")]


def test_what_comes_before_the_opening_belongs_to_it() -> None:
    assert folded(START, OPENED) == [Session("1", "", "good")]


def test_attempts_that_nobody_opened_a_session_for_are_one_that_is_not_open() -> None:
    (found,) = folded(TRY)
    assert found.attempts == 1
    assert not found.is_open


def test_what_was_struck_out_does_not_count() -> None:
    assert folded(OPENED, START, {"kind": "struck_out", "entry": "1"}) == [Session("0")]


def test_a_check_that_was_not_good_was_made() -> None:
    assert folded(OPENED, a_check("start_of_session", good=False))[0].start == "bad"


def test_a_day_without_facts_has_no_session() -> None:
    assert folded() == []
