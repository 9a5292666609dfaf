"""A sheet that is entered afterwards: good rows are recorded once, bad ones stay as typed, with a sentence."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.test import Client

from caseload.models import Episode
from checklists.models import Alert, Entry, HeldEntry, RefusedEntry
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from tests.makers import a_prosthetist, a_therapist, an_assistant, an_episode

pytestmark = pytest.mark.django_db
Enter = Callable[[Staff], Client]


def yesterday(episode: Episode, days: int = 1) -> str:
    today = datetime.now(tz=ZoneInfo(episode.site.time_zone)).date()
    return (today - timedelta(days=days)).isoformat()


STEPS = {
    "start_of_session": ("skin", "fit", "footwear", "mode"),
    "end_of_session": ("mode", "skin"),
    "lock_in": ("straight", "caught", "loaded"),
}


def checked(name: str, **marks: str) -> dict[str, str]:
    """The row of a check, good but for what is said otherwise."""
    return {"kind": f"check:{name}", **{f"mark_{step}": marks.get(step, "good") for step in STEPS[name]}}


START = checked("start_of_session")
ATTEMPT = {"kind": "attempt", "skill": "stand_load", "support": "bars_both", "help": "stand_by", "result": "safe"}


def sheet(episode: Episode, *rows: dict[str, Any], day: str = "", **more: str) -> dict[str, Any]:
    """What a browser sends: rows ten minutes apart from ten o'clock on, each with the id that the page gave it."""
    data: dict[str, Any] = {"day": day or yesterday(episode), "rows": str(len(rows)), **more}
    for number, row in enumerate(rows):
        typed = {"id": str(uuid4()), **({"time": f"10:{number:02}"} if row else {}), **row}
        data |= {f"row{number}-{name}": value for name, value in typed.items()}
    return data


def kinds(episode: Episode) -> list[str]:
    found = Entry.objects.filter(episode=episode).exclude(kind="episode_opened")
    return list(found.order_by("at", "number").values_list("kind", flat=True))


def sent(client: Client, episode: Episode, data: dict[str, Any]) -> Any:
    answer = client.post(f"/people/{episode.pk}/paper/enter/", data)
    assert answer.status_code == 200
    return answer.context["page"]


def test_the_page_gives_each_row_an_id_at_its_first_showing(enter: Enter, runa: Staff, ines: Episode) -> None:
    answer = enter(runa).get(f"/people/{ines.pk}/paper/enter/")
    ids = {line.form["id"].value() for line in answer.context["page"].lines}
    assert len(ids) == 11
    assert all(str(one) in answer.content.decode() for one in ids)


def test_the_rows_stand_as_on_the_printed_sheet_each_with_the_fields_of_its_kind(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    lines = enter(runa).get(f"/people/{ines.pk}/paper/enter/").context["page"].lines
    tries = ["Attempt"] * 6
    said = ["Start check", "Lock in", "Lock out", *tries, "Fall or near miss", "End check"]
    assert [line.form.title for line in lines] == said
    fields = [[one.bound.name for one in line.form.shown] for line in lines]
    assert fields[0] == ["mark_skin", "mark_fit", "mark_footwear", "mark_mode", "note"]
    assert fields[3] == ["skill", "support", "help", "result"]
    assert fields[9] == ["skill", "injury", "note"]
    steps = [one.bound for one in lines[1].form.shown if one.bound.name != "note"]
    assert [one.label for one in steps] == ["straight", "caught", "loaded"]
    assert [str(box.choice_label) for box in steps[0]] == ["✓ good", "✗ not good", "empty: not done"]
    assert {one.value() for one in steps} == {None}


def test_a_row_of_the_sheet_that_was_left_empty_is_no_row(enter: Enter, runa: Staff, ines: Episode) -> None:
    kinds_of_rows = ("check:start_of_session", "check:lock_in", "check:lock_out", *["attempt"] * 6, "fall")
    rows = [{"kind": kind, "time": ""} for kind in kinds_of_rows]
    page = sent(enter(runa), ines, sheet(ines, {**START, "time": "10:00"}, *rows[1:]))
    assert [line.outcome for line in page.lines] == ["accepted", *[""] * 9]
    assert kinds(ines) == ["check"]


def test_rows_are_recorded_as_late_facts_of_whoever_is_signed_in(enter: Enter, runa: Staff, ines: Episode) -> None:
    page = sent(enter(runa), ines, sheet(ines, START, ATTEMPT, {}, checked("end_of_session")))
    assert [line.outcome for line in page.lines] == ["accepted", "accepted", "", "accepted"]
    assert kinds(ines) == ["session_opened", "check", "attempt", "check", "session_closed"]
    assert page.lines[1].told == "Quiet standing, both hands on the bars, stand by · safe"
    attempt = Entry.objects.get(episode=ines, kind="attempt")
    local = attempt.at.astimezone(ZoneInfo(ines.site.time_zone))
    assert (attempt.by, local.isoformat()[:16]) == (runa, f"{yesterday(ines)}T10:01")


def test_a_sheet_sent_twice_is_recorded_once(enter: Enter, runa: Staff, ines: Episode) -> None:
    client, data = enter(runa), sheet(ines, START, ATTEMPT)
    sent(client, ines, data)
    page = sent(client, ines, data)
    assert [line.outcome for line in page.lines] == ["repeated", "repeated"]
    assert kinds(ines) == ["session_opened", "check", "attempt"]


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ({**ATTEMPT, "time": ""}, "Say at what time"),
        ({"skill": "stand_load"}, "Say what it was."),
        ({**ATTEMPT, "skill": ""}, "Say which skill was tried."),
        ({**ATTEMPT, "support": ""}, "Say with which support."),
        ({**ATTEMPT, "help": ""}, "Say with which help."),
        ({**ATTEMPT, "result": ""}, "Say how it went"),
        (START | {"mark_skin": "", "mark_fit": ""}, "Say what stands on the paper: skin, fit."),
        ({"kind": "check:lock_in"}, "Say what stands on the paper: straight, caught, loaded."),
        ({"kind": "fall"}, "Say how bad the injury was"),
        ({"kind": "mode_set:free_swing"}, "Say with which support."),
        ({**ATTEMPT, "measure": "load_share"}, "A number needs both"),
        ({**ATTEMPT, "value": "45"}, "A number needs both"),
        ({**ATTEMPT, "id": ""}, "This row has lost its number"),
        ({**ATTEMPT, "skill": "flying"}, "Select a valid choice"),
    ],
)
def test_a_row_that_says_too_little_stays_with_a_sentence_and_the_good_one_is_recorded(
    enter: Enter, runa: Staff, ines: Episode, row: dict[str, Any], sentence: str
) -> None:
    client = enter(runa)
    data = sheet(ines, START, {**row, "note": "as it was typed"})
    answer = client.post(f"/people/{ines.pk}/paper/enter/", data)
    assert sentence in answer.content.decode()
    assert [line.outcome for line in answer.context["page"].lines] == ["accepted", "incomplete"]
    assert 'value="as it was typed"' in answer.content.decode()
    assert kinds(ines) == ["check"]
    assert not RefusedEntry.objects.exists()


def test_what_the_record_refuses_stays_with_its_sentence_and_can_be_mended(enter: Enter, runa: Staff) -> None:
    client, both = enter(runa), an_episode(assigned_to=runa, side="both")
    data = sheet(both, checked("start_of_session"), checked("lock_in"))
    page = sent(client, both, data)
    assert [line.outcome for line in page.lines] == ["accepted", "refused"]
    assert page.lines[1].error.startswith("knee:")
    data["row1-knee"] = "left"
    answer = client.post(f"/people/{both.pk}/paper/enter/", data)
    assert [line.outcome for line in answer.context["page"].lines] == ["repeated", "accepted"]
    assert kinds(both) == ["check", "check"]
    assert "Record these rows" not in answer.content.decode()


def test_what_lies_in_the_future_is_refused(enter: Enter, runa: Staff, ines: Episode) -> None:
    page = sent(enter(runa), ines, sheet(ines, ATTEMPT, day=yesterday(ines, days=-2)))
    assert page.lines[0].outcome == "refused"
    assert page.lines[0].error.startswith("at:")


def test_what_the_author_must_have_released_is_held_and_said(enter: Enter, runa: Staff, ines: Episode) -> None:
    page = sent(enter(runa), ines, sheet(ines, ATTEMPT, day=yesterday(ines, days=9)))
    assert page.lines[0].outcome == "held"
    assert "a clinic lead must release it" in page.lines[0].error
    assert [held.episode_id for held in HeldEntry.objects.all()] == [ines.pk, ines.pk], "the attempt, and its session"
    assert kinds(ines) == []


def test_what_was_skipped_is_said_at_once_with_what_to_do_now(enter: Enter, runa: Staff, ines: Episode) -> None:
    client = enter(runa)
    data = sheet(ines, {"kind": "mode_set:locked"}, ATTEMPT)
    answer = client.post(f"/people/{ines.pk}/paper/enter/", data)
    raised = {alert.rule for alert in answer.context["page"].raised}
    assert {"start_check", "lock_verified"} <= raised
    assert Alert.objects.filter(episode=ines, open=True).exists()
    assert "Do now:" in answer.content.decode()
    assert "The rule that it broke: The start-of-session check (" in answer.content.decode()
    assert answer.context["page"].check_first


def test_more_rows_keep_what_was_typed_and_record_nothing(enter: Enter, runa: Staff, ines: Episode) -> None:
    client = enter(runa)
    data = sheet(ines, ATTEMPT, {"kind": "fall", "note": "slid off the chair"}, more="1")
    page = sent(client, ines, data)
    assert len(page.lines) == 8
    assert page.lines[1].form["note"].value() == "slid off the chair"
    assert page.lines[0].form["id"].value() == data["row0-id"]
    assert len({str(line.form["id"].value()) for line in page.lines}) == 8
    assert kinds(ines) == []


def test_more_rows_leave_what_was_recorded_as_recorded(enter: Enter, runa: Staff, ines: Episode) -> None:
    client, data = enter(runa), sheet(ines, START)
    sent(client, ines, data)
    page = sent(client, ines, {**data, "row0-taken": "accepted", "more": "1"})
    assert (page.lines[0].outcome, len(page.lines)) == ("accepted", 7)
    assert kinds(ines) == ["check"]


def test_there_are_only_so_many_rows(enter: Enter, runa: Staff, ines: Episode) -> None:
    page = sent(enter(runa), ines, {**sheet(ines, START, more="1"), "rows": "900"})
    assert (len(page.lines), page.full) == (40, True)


@pytest.mark.parametrize("day", ["", "the day before"])
def test_without_a_day_nothing_is_recorded(enter: Enter, runa: Staff, ines: Episode, day: str) -> None:
    page = sent(enter(runa), ines, {**sheet(ines, ATTEMPT), "day": day})
    assert page.fault.startswith("Say on which day this was.")
    assert kinds(ines) == []


def test_an_empty_sheet_says_so(enter: Enter, runa: Staff, ines: Episode) -> None:
    assert sent(enter(runa), ines, sheet(ines, {}, {})).fault.startswith("No row says anything yet.")


def test_numbers_deviations_and_what_a_check_found_are_recorded_as_written(
    enter: Enter, runa: Staff, ines: Episode
) -> None:
    start = {**checked("start_of_session", skin="bad", footwear="undone"), "note": "a red mark"}
    attempt = {**ATTEMPT, "deviations": ["bent_hip"], "measure": "load_share", "value": "46.5"}
    sent(enter(runa), ines, sheet(ines, start, attempt, {"kind": "near_miss", "note": "caught the rail"}))
    facts = Entry.objects.filter(episode=ines).exclude(kind__in=("episode_opened", "session_opened")).order_by("at")
    check, tried, near = (fact.content.body for fact in facts)
    assert '"steps":{"fit":true,"mode":true,"skin":false}' in check
    assert '"deviations":["bent_hip"]' in tried
    assert '"measures":{"load_share":46.5}' in tried
    assert '"circumstances":"caught the rail"' in near


def test_with_two_prostheses_each_knee_is_asked_for(enter: Enter, runa: Staff) -> None:
    both = an_episode(assigned_to=runa, side="both")
    page = sent(enter(runa), both, sheet(both, checked("lock_in"), {**checked("lock_in"), "knee": "left"}))
    assert [line.outcome for line in page.lines] == ["refused", "accepted"]
    assert page.lines[0].error.startswith("knee:")


def test_with_two_prostheses_the_start_check_is_one_of_both_knees_as_on_the_floor(enter: Enter, runa: Staff) -> None:
    both, client = an_episode(assigned_to=runa, side="both"), enter(runa)
    lines = client.get(f"/people/{both.pk}/paper/enter/").context["page"].lines
    asks = {line.form.title: [one.bound.name for one in line.form.shown].count("knee") for line in lines}
    assert asks["Start check, both knees"] == asks["End check, both knees"] == 0
    assert asks["Lock in"] == asks["Lock out"] == 1
    lock_in = next(line.form for line in lines if line.form.title == "Lock in")
    assert list(lock_in.fields["knee"].choices) == [("", "which one?"), ("left", "left"), ("right", "right")]
    assert sent(client, both, sheet(both, START)).lines[0].outcome == "accepted"
    assert '"knee"' not in Entry.objects.get(episode=both, kind="check").content.body


def test_another_row_asks_which_knee_only_of_what_is_told_of_one(enter: Enter, runa: Staff) -> None:
    both = an_episode(assigned_to=runa, side="both")
    page = sent(enter(runa), both, sheet(both, *[{} for _ in range(11)], more="1"))
    (knee,) = (one for one in page.lines[-1].form.shown if one.bound.name == "knee")
    asked = knee.of.split()
    assert {"check:lock_in", "check:lock_out", "mode_set:walking"} <= set(asked)
    assert "check:start_of_session" not in asked


def test_with_one_prosthesis_no_knee_is_asked_for(enter: Enter, runa: Staff, ines: Episode) -> None:
    lines = enter(runa).get(f"/people/{ines.pk}/paper/enter/").context["page"].lines
    assert not [one for line in lines for one in line.form.shown if one.bound.name == "knee"]
    assert lines[0].form.title == "Start check"


def test_somebody_elses_sheet_is_not_entered_and_that_is_in_the_trail(enter: Enter, ines: Episode) -> None:
    stranger = a_therapist()
    client = enter(stranger)
    assert client.get(f"/people/{ines.pk}/paper/enter/").status_code == 404
    assert client.post(f"/people/{ines.pk}/paper/enter/", sheet(ines, ATTEMPT)).status_code == 404
    assert TrailRow.objects.filter(verb="access.refused", actor=stranger, episode=ines.pk).exists()
    assert kinds(ines) == []


def test_a_prosthetist_enters_no_sheet(enter: Enter, ines: Episode) -> None:
    assert enter(a_prosthetist()).get(f"/people/{ines.pk}/paper/enter/").status_code == 403


def test_an_assistants_rows_are_judged_as_an_assistants(enter: Enter, ines: Episode) -> None:
    page = sent(enter(an_assistant()), ines, sheet(ines, START, ATTEMPT))
    assert "assistant" in " ".join(alert.sentence.lower() for alert in page.raised)


def test_the_persons_page_and_the_sheet_lead_here(enter: Enter, runa: Staff, ines: Episode) -> None:
    client, address = enter(runa), f'href="/people/{ines.pk}/paper/enter/"'
    for page in (f"/people/{ines.pk}/", f"/people/{ines.pk}/paper/"):
        assert address in client.get(page).content.decode()
