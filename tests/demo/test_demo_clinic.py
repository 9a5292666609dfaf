"""The demo clinic as its visitor finds it: every situation of the tour, few alerts, a record that replays."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from io import StringIO
from pathlib import Path

import orjson
import pytest
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db.models import Count

from caseload.models import AdjustmentRequest, Assignment, Cover, Episode, Pause, PlannedReview, Referral, Visit
from checklists.alerts.models import Alert, StepKind
from checklists.demo.cast import DELE, JONAS, LUCIE, QUAY_STREET, SORREL, demo_sign_ins
from checklists.demo.clinic import bring_up_to_date
from checklists.demo.roster import MISTAKEN
from checklists.demo.situations import SITUATIONS
from checklists.demo.telephones import code_of
from checklists.domain import Episode as Fold
from checklists.proof.services import export_proof
from checklists.record import protocols
from checklists.record.models import Entry, Head, HeldEntry, RefusedEntry, SignedEvidence
from clinic import clock
from clinic.ledger.seal import seal
from clinic.staff.models import Authorisation, Site, Staff
from clinic.staff.sign_in import sign_in

pytestmark = [pytest.mark.slow, pytest.mark.django_db, pytest.mark.timeout(1_200)]
BUILT_IN_THE_TOUR = {
    "fall_unreviewed",
    "walking_mode_at_close",
    "walking_mode_in_time",
    "unsupported_sign_off",
    "struck_danger",
}


def episode_of(key: str) -> Episode:
    """The episode of the person who stands for a situation."""
    given, family = SITUATIONS[key].person.split()
    return Episode.objects.get(person__given_name=given, person__family_name=family)


def fold_of(key: str) -> Fold:
    """Where their record stands."""
    head = Head.objects.get(episode=episode_of(key))
    return Fold.restore(protocols.loaded(head.protocol_id), bytes(head.snapshot))


def status(key: str, skill: str, at: datetime) -> str:
    """The status of a skill of theirs."""
    return fold_of(key).status_words(at)[skill]


def rules(key: str) -> set[str]:
    """Rules with an open alert on their record."""
    return set(Alert.objects.filter(episode=episode_of(key), open=True).values_list("rule", flat=True))


def kinds(key: str, kind: str) -> int:
    """How many facts of a kind they have."""
    return Entry.objects.filter(episode=episode_of(key), kind=kind).count()


def words(key: str, at: datetime) -> dict[str, str]:
    """The status of all their skills."""
    return fold_of(key).status_words(at)


LOOKS: dict[str, Callable[[datetime], bool]] = {
    "lapsed": lambda at: status("lapsed", "stair_up", at) == "lapsed",
    "fall_under_review": lambda at: kinds("fall_under_review", "fall") == 1 and rules("fall_under_review") == set(),
    "fall_unreviewed": lambda at: rules("fall_unreviewed") == {"fall_unreviewed"},
    "lock_unproven": lambda at: (
        (fold_of("lock_unproven").knees()[0].mode, fold_of("lock_unproven").knees()[0].proof) == ("locked", "set")
    ),
    "two_prostheses": lambda at: len(fold_of("two_prostheses").knees()) == 2,
    "expired_authorisation": lambda at: (
        status("expired_authorisation", "lock_use", at) == "ready"
        and not Authorisation.objects.filter(staff__username=DELE.username, feature="lock", expires_on__gte=at).exists()
    ),
    "cover": lambda at: Cover.objects.filter(
        episode=episode_of("cover"), staff__username=LUCIE.username, period__contains=at
    ).exists(),
    "old_request": lambda at: AdjustmentRequest.objects.filter(
        episode=episode_of("old_request"), state="asked", asked_at__lt=at - timedelta(days=30)
    ).exists(),
    "waiting_urgently": lambda at: Referral.objects.filter(
        person__family_name="Quaymor", urgency="urgent", accepted_at=None, ended_at=None
    ).exists(),
    "overdue_review": lambda at: PlannedReview.objects.filter(
        episode=episode_of("overdue_review"), done_at=None, due_on__lt=at - timedelta(days=10)
    ).exists(),
    "override": lambda at: SignedEvidence.objects.filter(
        entry__episode=episode_of("override"), countersigner__isnull=False
    ).exists(),
    "late_fact": lambda at: Alert.objects.filter(
        episode=episode_of("late_fact"), rule="support_step", open=True
    ).exists(),
    "struck_out": lambda at: kinds("struck_out", "struck_out") == 1 and rules("struck_out") == set(),
    "struck_danger": lambda at: rules("struck_danger") == {"struck_danger"},
    "held_fact": lambda at: HeldEntry.objects.filter(episode=episode_of("held_fact"), settled_at=None).exists(),
    "unsafe_pair": lambda at: "suspended" in words("unsafe_pair", at).values(),
    "gap": lambda at: "gap" in {one.key for one in fold_of("gap").check_first(at)},
    "paused": lambda at: Pause.objects.filter(episode=episode_of("paused"), period__contains=at.date()).exists(),
    "transfer": lambda at: (
        episode_of("transfer").site.name == QUAY_STREET
        and Assignment.objects.filter(episode=episode_of("transfer")).count() == 2
        and kinds("transfer", "correction_requested") == 1
    ),
    "knee_exchanged": lambda at: "knee" in set(setting_changes("knee_exchanged")),
    "resistance_changed": lambda at: status("resistance_changed", "yield_load", at) == "suspended",
    "ready_to_sign": lambda at: "ready" in words("ready_to_sign", at).values(),
    "refused_fact": lambda at: RefusedEntry.objects.filter(episode=episode_of("refused_fact"), urgent=True).exists(),
    "did_not_come": lambda at: Visit.objects.filter(episode=episode_of("did_not_come"), state="missed").count() == 2,
}


def setting_changes(key: str) -> list[str]:
    """What was changed on their prosthesis."""
    rows = Entry.objects.filter(episode=episode_of(key), kind="setting_changed").values_list("content__body", flat=True)
    return [orjson.loads(body)["setting"] for body in rows]


@pytest.mark.parametrize("key", SITUATIONS)
def test_the_tour_finds(key: str, demo_clinic: datetime) -> None:
    assert LOOKS[key](demo_clinic)


def test_everybody_of_the_tour_who_should_comes_today(demo_clinic: datetime) -> None:
    coming = set(visitors(demo_clinic))
    assert {one.person for one in SITUATIONS.values() if one.comes_today} <= coming


def visitors(at: datetime) -> list[str]:
    """Who has a session planned on the day of an instant."""
    rows = Visit.objects.filter(starts_at__date=at.date(), state="planned").select_related("episode__person")
    return [row.episode.person.full_name for row in rows]


def test_each_mistake_was_made_once_and_answered(demo_clinic: datetime) -> None:
    made = Alert.objects.filter(rule__in=MISTAKEN, acknowledged_at__isnull=False)
    assert set(made.values_list("rule", flat=True)) == set(MISTAKEN)


def test_the_rules_of_the_tour_wait_for_the_visitor(demo_clinic: datetime) -> None:
    waiting = Alert.objects.filter(open=True, acknowledged_at=None).values_list("rule", flat=True)
    assert set(waiting) >= BUILT_IN_THE_TOUR


def test_the_great_majority_of_courses_raise_no_alert(demo_clinic: datetime) -> None:
    with_alerts = Episode.objects.filter(alerts__isnull=False).distinct().count()
    assert Episode.objects.count() == 100
    assert with_alerts <= 25


def test_sixty_are_open_and_forty_are_closed(demo_clinic: datetime) -> None:
    assert Episode.objects.filter(closed_at=None).count() == 60
    assert Episode.objects.filter(closed_at__lt=demo_clinic).count() == 40


def test_two_sites_and_ten_staff_who_can_sign_in(demo_clinic: datetime) -> None:
    assert (Site.objects.count(), Staff.objects.count()) == (2, 10)
    for one in demo_sign_ins():
        code = code_of(Staff.objects.get(username=one.username), 0)
        assert sign_in(username=one.username, password=one.password, code=code).shown.both
    assert not Staff.objects.filter(identity_checked_at__isnull=True).exists()


def test_the_stored_alerts_and_statuses_equal_a_replay_of_the_export(demo_clinic: datetime) -> None:
    said = StringIO()
    with clock.at_instant(demo_clinic):
        call_command("check_replay", stderr=said)
    assert "100 episodes compared, 0 differences." in said.getvalue()


def test_every_alert_began_with_a_step(demo_clinic: datetime) -> None:
    without = Alert.objects.exclude(steps__kind=StepKind.RAISED).count()
    assert without == 0


def test_nothing_happened_after_the_first_start(demo_clinic: datetime) -> None:
    later = Entry.objects.filter(received_at__gte=demo_clinic)
    assert [one.kind for one in later] == ["check"], "but for what a visitor recorded (a_visitor in conftest.py)"


def test_reviews_are_held_in_time_but_for_those_of_the_tour(demo_clinic: datetime) -> None:
    overdue = PlannedReview.objects.filter(done_at=None, cancelled_at=None, due_on__lt=demo_clinic)
    assert overdue.count() <= 8


def test_jonas_is_away_and_his_people_are_covered(demo_clinic: datetime) -> None:
    his = Assignment.objects.filter(staff__username=JONAS.username, period__contains=demo_clinic)
    his = his.filter(episode__closed_at=None)
    covered = Cover.objects.filter(episode__in=his.values("episode"), period__contains=demo_clinic)
    assert his.count() == covered.count() > 5


def test_a_second_start_lives_through_the_days_between(demo_clinic: datetime) -> None:
    """Nine days later: the days between are there, the people of the tour still come today."""
    later = demo_clinic + timedelta(days=9)
    before = Entry.objects.count()
    with clock.at_instant(later):
        said = bring_up_to_date(step=lambda name, total: None)
    between = Entry.objects.filter(received_at__gt=demo_clinic, received_at__lt=later)
    days = between.values("received_at__date").annotate(n=Count("pk")).count()
    assert said.endswith("9 days")
    assert Entry.objects.count() > before + 100
    assert days >= 7
    assert {one.person for one in SITUATIONS.values() if one.comes_today} <= set(visitors(later))


def test_who_signs_in_and_records_while_the_year_goes_by_stops_nothing(demo_clinic: datetime) -> None:
    """The code that they used was theirs alone, and whom they recorded for is left to them."""
    check = Entry.objects.get(kind="check", at=demo_clinic)
    later = Entry.objects.filter(episode=check.episode_id, number__gt=check.number)
    assert not later.filter(kind__in=("session_opened", "attempt")).exists()
    signed = Entry.objects.filter(kind="sign_off", number__gt=check.number, by__username=SORREL.username)
    assert signed.exists(), "their other people are signed off in the last days"


def test_records_of_the_invented_clinic_are_proved(
    demo_clinic: datetime, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Long records with many signatures, sealed among all the others."""
    monkeypatch.setattr(settings, "LEDGER_CHECKPOINT_FILE", str(tmp_path / "checkpoints.txt"))
    with clock.at_instant(demo_clinic + timedelta(days=30)):
        seal(clock.now())
        signed = SignedEvidence.objects.order_by("entry__number").values_list("entry__episode__reference", flat=True)
        for reference in list(dict.fromkeys(signed))[-5:]:
            made = export_proof(actor=None, reference=reference)
            assert made.holds, made.lines
            assert sum("signature under entry" in text for status, text in made.lines if status == "holds") > 0


def test_the_seed_is_refused_where_the_demo_is_not(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "DEMO", False)
    with pytest.raises(CommandError, match="not the demo"):
        call_command("seed_demo")


def test_the_clock_cannot_be_set_on_a_real_server(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "CLOCK_CAN_BE_SET", False)
    with (
        pytest.raises(RuntimeError, match="cannot be set"),
        clock.at_instant(datetime.fromisoformat("2026-01-01T00:00Z")),
    ):
        pass


def test_the_year_is_not_shipped_but_made() -> None:
    """Dates stand relative to the first start: nothing in the demo's code names a year."""
    folder = Path("checklists/demo")
    assert folder.is_dir()
    assert [path.name for path in folder.glob("*.py") if "202" in path.read_text(encoding="utf-8")] == []
