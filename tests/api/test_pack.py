"""What a tablet takes along: the record as it stands, what came since, and a row of the trail for it, one a day."""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import UUID

import orjson
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from caseload.episode.models import Episode
from caseload.looked.selectors import last_looks, who_looked
from checklists.domain import Episode as Fold
from checklists.domain import load_protocol, parse_entry
from checklists.floor import pack as packing
from checklists.models import EntryContent
from clinic import clock
from clinic.audit.models import TrailRow
from clinic.staff.models import Staff
from tests.api.conftest import Caller
from tests.makers import (
    a_check,
    a_records_officer,
    a_therapist,
    ago,
    an_assistant,
    an_attempt,
    an_episode,
    in_through_the_door,
    now,
    recorded,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def therapist() -> Staff:
    return a_therapist(name="Runa Achterling")


@pytest.fixture
def ines(therapist: Staff) -> Episode:
    episode = an_episode(assigned_to=therapist)
    recorded(
        therapist, episode, a_check(at=ago(minutes=9)), an_attempt(at=ago(minutes=8), measures={"load_share": 50.0})
    )
    return episode


def taken(calling: Caller, actor: Staff, episode: Episode, **query: Any) -> Any:
    return calling(actor).get(f"/api/v1/episodes/{episode.pk}/pack/", query)


def test_it_is_the_record_in_order_of_reception_to_the_byte(calling: Caller, therapist: Staff, ines: Episode) -> None:
    found = taken(calling, therapist, ines).json()
    bodies = EntryContent.objects.filter(entry__episode=ines).order_by("entry__number").values_list("body", flat=True)
    assert found["entries"] == list(bodies)
    assert [orjson.loads(body)["kind"] for body in found["entries"]] == ["episode_opened", "check", "attempt"]
    assert load_protocol(found["protocol"]["document"]).digest == found["protocol"]["digest"]
    assert found["names"] == {therapist.reference: "Runa Achterling"}
    assert (found["reference"], found["role"], found["zone"]) == (ines.reference, "therapist", ines.site.time_zone)


def test_the_fold_of_it_comes_along_and_with_what_came_since(calling: Caller, therapist: Staff, ines: Episode) -> None:
    """What the core makes of the snapshot is what it makes of the entries; without news there is none."""
    first = taken(calling, therapist, ines).json()
    protocol = load_protocol(first["protocol"]["document"])
    entries = [parse_entry(orjson.loads(body), protocol) for body in first["entries"]]
    replayed = Fold.replay(protocol, entries, reference=ines.reference).episode
    assert Fold.restore(protocol, first["snapshot"].encode()).snapshot() == replayed.snapshot()
    known = {"since": first["number"], "protocol": first["protocol"]["digest"]}
    assert taken(calling, therapist, ines, **known).json()["snapshot"] is None
    recorded(therapist, ines, an_attempt(at=ago(minutes=1)))
    later = taken(calling, therapist, ines, **known).json()
    entries += [parse_entry(orjson.loads(body), protocol) for body in later["entries"]]
    assert later["snapshot"].encode() == Fold.replay(protocol, entries, reference=ines.reference).episode.snapshot()


def test_no_fold_comes_along_that_is_older_than_the_entries(
    calling: Caller, therapist: Staff, ines: Episode, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody records between the two statements: the tablet folds the entries itself."""
    folded = packing._folded

    def and_then_somebody_records(episode_id: UUID) -> tuple[bytes, int]:
        found = folded(episode_id)
        recorded(therapist, ines, an_attempt(at=ago(minutes=1)))
        return found

    monkeypatch.setattr(packing, "_folded", and_then_somebody_records)
    pack = taken(calling, therapist, ines).json()
    assert (len(pack["entries"]), pack["snapshot"]) == (4, None)


def test_since_a_number_there_is_only_what_came_after_it(calling: Caller, therapist: Staff, ines: Episode) -> None:
    first = taken(calling, therapist, ines).json()
    known = {"since": first["number"], "protocol": first["protocol"]["digest"]}
    nothing = taken(calling, therapist, ines, **known).json()
    assert (nothing["entries"], nothing["number"], nothing["protocol"]["document"]) == ([], first["number"], "")
    other = an_assistant(name="Jorun Wexthorn")
    late = an_attempt(at=ago(minutes=30))
    recorded(other, ines, late)
    later = taken(calling, therapist, ines, **known).json()
    assert [orjson.loads(body)["id"] for body in later["entries"]] == [late["id"]]
    assert later["number"] > first["number"]
    assert later["names"] == {other.reference: "Jorun Wexthorn"}


def test_the_protocol_comes_again_where_another_is_known(calling: Caller, therapist: Staff, ines: Episode) -> None:
    assert taken(calling, therapist, ines, since=10**6, protocol="0" * 64).json()["protocol"]["document"]


def test_nobody_takes_along_whom_they_may_not_record_for(calling: Caller, ines: Episode) -> None:
    assert taken(calling, a_therapist(), ines).status_code == 404
    assert taken(calling, a_records_officer(), ines).status_code in (403, 404)
    assert not TrailRow.objects.filter(verb="person.taken").exists()


@pytest.mark.parametrize("since", ["-1", "x", "1.5", str(2**70)])
def test_a_number_that_is_none_is_refused(calling: Caller, therapist: Staff, ines: Episode, since: str) -> None:
    assert taken(calling, therapist, ines, since=since).status_code == 400


def test_the_first_of_a_day_leaves_a_row_and_the_others_none(
    calling: Caller, therapist: Staff, ines: Episode, settings: Any
) -> None:
    settings.CLOCK_CAN_BE_SET = True
    other = an_assistant()
    for actor in (therapist, therapist, other, therapist):
        assert taken(calling, actor, ines).status_code == 200
    rows = TrailRow.objects.filter(verb="person.taken", episode=ines.pk)
    assert [row.actor for row in rows.order_by("number")] == [therapist, other]
    assert rows.earliest("number").detail == {"as": "carries them"}
    caller = calling(therapist)
    with clock.at_instant(now() + timedelta(days=1)):
        caller.get(f"/api/v1/episodes/{ines.pk}/pack/")
    assert rows.filter(actor=therapist).count() == 2


def test_taking_along_is_told_to_who_asks_who_looked_and_is_no_looking(
    calling: Caller, therapist: Staff, ines: Episode
) -> None:
    taken(calling, therapist, ines)
    day = now().date()
    found = who_looked(a_records_officer(), ines.person.number, first=day - timedelta(days=1), last=day, at=now())
    assert any("took onto a tablet" in look.told for look in found.looks)
    assert last_looks(therapist, [ines.pk]) == {ines.pk: None}


def test_the_page_that_is_fetched_before_anybody_opens_it_says_so(therapist: Staff, ines: Episode) -> None:
    browser = Client()
    in_through_the_door(browser, therapist)
    browser.get(f"/floor/{ines.pk}/", headers={"X-Taken-Along": "1"})
    assert list(
        TrailRow.objects.filter(episode=ines.pk, verb__startswith="person.").values_list("verb", flat=True)
    ) == ["person.taken"]
    browser.get(f"/floor/{ines.pk}/")
    assert TrailRow.objects.filter(verb="person.opened", episode=ines.pk).count() == 1


def test_it_costs_as_many_statements_for_a_long_record(calling: Caller, therapist: Staff, ines: Episode) -> None:
    caller = calling(therapist)
    address = f"/api/v1/episodes/{ines.pk}/pack/"
    caller.get(address)

    def statements() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert caller.get(address).status_code == 200
        return len(seen)

    before = statements()
    recorded(therapist, ines, *(an_attempt(at=ago(seconds=number)) for number in range(60, 20, -1)))
    recorded(an_assistant(), ines, an_attempt(at=ago(seconds=5)))
    assert statements() == before
