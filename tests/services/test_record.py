"""Recording facts: taken, repeated, refused one by one, and everything that is written with them."""

from __future__ import annotations

import hashlib
from typing import Any

import orjson
import pytest

from checklists.models import Alert, Deadline, Entry, EntryContent, Head, RefusedEntry
from clinic.audit.models import TrailRow
from clinic.errors import Invalid, NotFound
from clinic.outbox.models import OutboxRow
from clinic.staff.roles import Role
from tests.makers import (
    a_check,
    a_fall,
    a_lead,
    a_prosthetist,
    a_staff,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_entry,
    an_episode,
    now,
    recorded,
    stamp,
)

pytestmark = pytest.mark.django_db


def body_of(id_: str) -> dict[str, object]:
    found: dict[str, object] = orjson.loads(EntryContent.objects.get(entry_id=id_).body)
    return found


def test_a_fact_is_stamped_with_who_recorded_it_and_as_what() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    attempt = an_attempt()
    assert [one.outcome for one in recorded(therapist, episode, attempt).verdicts] == ["accepted"]
    said = {"by": therapist.reference, "role": "therapist", "episode": episode.reference}
    assert body_of(attempt["id"]) == attempt | said


def test_the_role_is_the_one_that_was_held_when_it_happened() -> None:
    therapist = a_staff(Role.THERAPIST, Role.ASSISTANT)
    therapist.role_terms.filter(role=Role.THERAPIST).update(period=(ago(days=1).date(), None))
    episode = an_episode(assigned_to=therapist)
    attempt = an_attempt(at=ago(days=3))
    recorded(therapist, episode, attempt)
    assert body_of(attempt["id"])["role"] == "assistant"


def test_the_row_proves_the_content_with_a_salt_of_its_own() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    first, second = an_attempt(), an_attempt()
    recorded(therapist, episode, first, second)
    contents = EntryContent.objects.select_related("entry").filter(entry__id__in=[first["id"], second["id"]])
    for one in contents:
        assert bytes(one.entry.commitment) == hashlib.sha256(bytes(one.salt) + one.body.encode()).digest()
    assert len({bytes(one.salt) for one in contents}) == 2


def test_the_same_fact_again_is_the_same_fact() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    attempt = an_attempt()
    recorded(therapist, episode, attempt)
    again = recorded(therapist, episode, attempt | {"deviations": [], "seq": 0, "role": "clinic_lead"})
    assert [one.outcome for one in again.verdicts] == ["repeated"]
    assert Entry.objects.filter(id=attempt["id"]).count() == 1


def test_twice_in_one_call_is_once() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    attempt = an_attempt()
    both = recorded(therapist, episode, attempt, attempt)
    assert [one.outcome for one in both.verdicts] == ["accepted", "repeated"]


def test_other_content_under_an_id_is_refused_and_the_first_stays() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    attempt = an_attempt()
    recorded(therapist, episode, attempt)
    other = recorded(therapist, episode, attempt | {"result": "unsafe"})
    assert other.verdicts[0].outcome == "refused"
    assert str(other.verdicts[0].error).startswith("id: ")
    assert body_of(attempt["id"])["result"] == "safe"


def test_an_id_of_another_episode_is_refused() -> None:
    therapist = a_therapist()
    attempt = an_attempt()
    recorded(therapist, an_episode(assigned_to=therapist), attempt)
    verdict = recorded(therapist, an_episode(assigned_to=therapist), attempt).verdicts[0]
    assert (verdict.outcome, str(verdict.error)[:4]) == ("refused", "id: ")


def test_an_entry_of_another_episode_is_refused() -> None:
    therapist = a_therapist()
    other = an_episode(assigned_to=therapist)
    verdict = recorded(therapist, an_episode(assigned_to=therapist), an_attempt(episode=other.reference)).verdicts[0]
    assert (verdict.outcome, str(verdict.error)[:9]) == ("refused", "episode: ")


def nested(depth: int) -> list[Any]:
    found: list[Any] = []
    for _ in range(depth):
        found = [found]
    return found


BAD: dict[str, dict[str, Any]] = {
    "id": {"id": "not a UUID"},
    "at": {"at": "yesterday"},
    "skill": {"skill": "flying"},
    "colour": {"colour": "red"},
    "result": {"result": None},
    "note": {"note": "x" * 4_001},
    "despite": {"despite": "a\0b"},
    "note ": {"note": "half of a character: \ud800"},
    "seq": {"seq": 2**53},
    "measures": {"measures": {"steps": float("nan")}},
    "deviations": {"deviations": ["unheard_of"]},
    "by": {"by": "S-somebody-else"},
    " note": {"note": "x" * 5_000_000},
    " measures": {"measures": nested(100_000)},
}


@pytest.mark.parametrize("field", BAD)
def test_one_bad_entry_refuses_that_entry_and_no_other(field: Any) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    verdicts = recorded(therapist, episode, an_attempt(), an_attempt() | BAD[field], an_attempt()).verdicts
    assert [one.outcome for one in verdicts] == ["accepted", "refused", "accepted"]
    assert str(verdicts[1].error).startswith(f"{field.strip()}: ")


def test_a_fact_more_than_five_minutes_ahead_is_refused() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    ahead = [an_attempt(at=ago(minutes=-4)), an_attempt(at=ago(minutes=-6))]
    assert [one.outcome for one in recorded(therapist, episode, *ahead).verdicts] == ["accepted", "refused"]


@pytest.mark.parametrize("year", ["0000", "0001"])
def test_an_instant_that_no_calendar_here_holds_is_refused(year: Any) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    verdict = recorded(therapist, episode, an_attempt() | {"at": f"{year}-01-01T00:00:00+23:00"}).verdicts[0]
    assert (verdict.outcome, str(verdict.error)[:4]) == ("refused", "at: ")


def test_more_than_a_thousand_at_once_are_refused_as_a_whole() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    with pytest.raises(Invalid, match="1,001 entries at once"):
        recorded(therapist, episode, *[an_attempt() for _ in range(1_001)])
    assert not Entry.objects.filter(kind="attempt").exists()


def test_a_thousand_at_once_are_taken() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    batch = [an_attempt("don_check", "none", at=ago(seconds=1_000 - n)) for n in range(1_000)]
    assert recorded(therapist, episode, *batch).outcomes() == {"accepted": 1_000}


@pytest.mark.parametrize("kind", ["sign_off", "sign_off_withdrawn"])
def test_signatures_come_only_from_the_signing_service(kind: Any) -> None:
    therapist = a_therapist()
    verdict = recorded(therapist, an_episode(assigned_to=therapist), an_entry(kind, skill="don_check")).verdicts[0]
    assert (verdict.outcome, str(verdict.error)[:6]) == ("refused", "kind: ")


TWO_KNEES = [
    an_entry("mode_set", mode="locked"),
    a_check("lock_in"),
    an_entry("setting_changed", setting="knee", features=["lock"]),
]


@pytest.mark.parametrize("entry", TWO_KNEES, ids=lambda entry: entry["kind"])
@pytest.mark.parametrize(("side", "outcome"), [("both", "refused"), ("left", "accepted")])
def test_whoever_has_two_knees_is_asked_which(entry: Any, side: Any, outcome: Any) -> None:
    staff = a_staff(Role.THERAPIST, Role.PROSTHETIST)
    episode = an_episode(assigned_to=staff, side=side)
    verdict = recorded(staff, episode, entry | {"at": stamp(now())}).verdicts[0]
    assert verdict.outcome == outcome
    assert (verdict.error or "knee: ").startswith("knee: ")


def test_what_is_refused_is_kept_with_the_error_once() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    bad = an_attempt(skill="flying")
    for _ in range(2):
        recorded(therapist, episode, bad)
    row = RefusedEntry.objects.get(episode=episode)
    assert (row.sender, orjson.loads(row.raw), row.error[:7]) == (therapist, bad, "skill: ")


@pytest.mark.parametrize("grave", [a_fall(injury="very"), an_attempt(result="unsafe", support="wings")])
def test_a_refused_fall_or_unsafe_attempt_is_put_before_the_lead(grave: Any) -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    recorded(therapist, episode, grave | {"at": stamp(now())})
    row = RefusedEntry.objects.get(episode=episode)
    alert = Alert.objects.get(episode=episode)
    assert (alert.rule, alert.entry, alert.severity, alert.by_rule) == ("refused_danger", row.pk, "critical", False)
    assert OutboxRow.objects.filter(topic="alert.raised").exists()


def test_what_other_entries_forbid_is_stored_all_the_same() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    second = an_entry("episode_opened", side="right", features=[], protocol="above_knee@1")
    verdict = recorded(therapist, episode, second).verdicts[0]
    assert (verdict.outcome, str(verdict.error)[:6]) == ("refused", "kind: ")
    assert Entry.objects.filter(id=second["id"]).exists()
    episode.refresh_from_db()
    assert episode.side == "left"


def test_everything_is_written_with_the_fact() -> None:
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    fall, alone = a_fall(at=ago(minutes=9)), an_attempt("ramp_down", "none", help="alone")
    before = TrailRow.objects.count()
    taken = recorded(therapist, episode, fall, alone)
    assert {one.rule for one in taken.raised} >= {"alone", "fall_review", "support_step", "prerequisite"}
    assert {one["rule"] for one in taken.verdicts[1].alerts} == {one.rule for one in taken.raised}
    assert set(Alert.objects.values_list("rule", flat=True)) == {one.rule for one in taken.raised}
    assert Deadline.objects.get(rule="fall_unreviewed").entry.hex == fall["id"].replace("-", "")
    row = TrailRow.objects.order_by("-number").first()
    assert row is not None
    assert (row.verb, row.actor, row.episode, TrailRow.objects.count()) == (
        "entries.recorded",
        therapist,
        episode.pk,
        before + 1,
    )
    assert row.detail == {"entries": [fall["id"], alone["id"]]}
    assert OutboxRow.objects.filter(topic="alert.raised", payload__episode=str(episode.pk)).count() == 1
    head = Head.objects.get(episode=episode)
    assert (head.entries, head.board["skills"]["ramp_down"]["status"]) == (3, "blocked")


def test_a_knee_that_is_exchanged_changes_what_lists_know() -> None:
    bench = a_prosthetist()
    episode = an_episode()
    recorded(bench, episode, an_entry("setting_changed", setting="knee", features=["lock"]))
    episode.refresh_from_db()
    assert episode.features == ["lock"]


def test_a_struck_opening_leaves_the_person_without_side_and_features() -> None:
    lead = a_lead()
    episode = an_episode()
    opening = Entry.objects.get(episode=episode)
    recorded(lead, episode, an_entry("struck_out", entry=str(opening.id), reason="another person"))
    episode.refresh_from_db()
    assert (episode.side, episode.features, episode.opened_at) == ("", [], None)


# --- who may ----------------------------------------------------------------------------------------------------------


def test_a_stranger_learns_nothing() -> None:
    with pytest.raises(NotFound):
        recorded(a_therapist(), an_episode(), an_attempt())


def test_an_assistant_records_for_whoever_is_at_their_site() -> None:
    assistant = an_assistant()
    assert recorded(assistant, an_episode(), an_attempt()).outcomes() == {"accepted": 1}


KINDS_BY_ROLE = [
    (Role.PROSTHETIST, an_attempt(), "refused"),
    (Role.PROSTHETIST, an_entry("setting_changed", setting="alignment"), "accepted"),
    (Role.PROSTHETIST, a_check(), "accepted"),
    (Role.PROSTHETIST, an_entry("mode_set", mode="walking"), "accepted"),
    (Role.PROSTHETIST, an_entry("review"), "refused"),
    (Role.CLINIC_LEAD, an_entry("setting_changed", setting="resistance"), "refused"),
    (Role.CLINIC_LEAD, an_entry("setting_changed", setting="footwear"), "accepted"),
    (Role.CLINIC_LEAD, an_entry("review"), "accepted"),
    (Role.ASSISTANT, an_entry("review"), "refused"),
    (Role.ASSISTANT, an_entry("near_miss"), "accepted"),
    (Role.ASSISTANT, an_entry("episode_closed"), "refused"),
]


@pytest.mark.parametrize(("role", "entry", "outcome"), KINDS_BY_ROLE)
def test_what_may_be_recorded_follows_the_kind(role: Any, entry: Any, outcome: Any) -> None:
    verdict = recorded(a_staff(role), an_episode(), entry | {"at": stamp(now())}).verdicts[0]
    assert verdict.outcome == outcome
    assert (verdict.error or "kind: ").startswith("kind: ")
