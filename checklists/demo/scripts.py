"""What is done on certain days besides ordinary sessions, so that every situation of the tour is there to be seen."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import datetime, time, timedelta
from uuid import UUID

from caseload.assignment import cover as covers
from caseload.assignment import services as assignments
from caseload.episode import services as episodes
from caseload.models import AdjustmentRequest, Assignment, Episode
from caseload.request import services as requests
from caseload.review import services as reviews
from caseload.visit import services as visits
from checklists.demo import acts
from checklists.demo.cast import JONAS, LUCIE, QUAY_STREET, SECOND_LEAD, SORREL
from checklists.demo.desk import LOCAL, Desk
from checklists.demo.roster import Resident
from checklists.demo.session import Fact, work
from checklists.keeping.asking import ask_correction
from checklists.record.models import Entry
from clinic import clock
from clinic.staff.models import Staff

Script = Callable[[Desk, Resident, int, Staff], None]


def come(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """An ordinary session that the rhythm of their visits might have left out."""
    acts.hold_session(desk, who, desk.instant(day, time(13, 20)))


def fall_at_home(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """They telephone: a fall on the slope in front of the house. It is recorded, and a review is planned."""
    said = {"circumstances": "Slipped on the wet slope in front of the house.", "action": "Sat down, telephoned us."}
    fact = _fact(desk, who, day, time(7, 40), "fall", skill="ramp_down", injury="minor", **said)
    desk.record(author, who, [fact], at=desk.instant(day, time(9, 10)))
    with clock.at_instant(desk.instant(day, time(9, 20))):
        due = desk.day(day + 4)
        reviews.plan_review(
            actor=author, episode_id=_id(desk, who), due_on=due, kind="fall", note="After a fall at home"
        )


def lock_left(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """The lock is set for standing at the kitchen counter, not proven, and the session is closed on it."""
    session = desk.session(who, author, desk.instant(day, time(14)))
    session.open()
    work(session)
    session.add("mode_set", mode="locked", support="bars_both")
    session.add("session_closed", after_s=120)
    desk.send(who, session)


def cover(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """Leave: a colleague covers for the whole caseload, from today on for thirteen days."""
    away, covering = desk.staff[JONAS.username], desk.staff[LUCIE.username]
    with clock.at_instant(desk.instant(day, time(7, 30))):
        covers.arrange_cover(
            actor=desk.lead,
            staff_id=covering.pk,
            away_id=away.pk,
            reason="Leave",
            first_day=desk.day(day),
            last_day=desk.day(day + 12),
        )


def ask_alignment(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A request that nobody will answer."""
    _ask(desk, who, day, author, "alignment", "Foot turns out in swing; please look at the rotation.")


def ask_resistance(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A request that is answered two days later."""
    _ask(desk, who, day, author, "resistance", "Yields too early on the slope: a little stiffer, please.")


def resistance(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """The prosthetist answers it."""
    asked = AdjustmentRequest.objects.get(episode=_id(desk, who), setting="resistance", state="asked")
    acts.change(desk, who, "resistance", desk.instant(day, time(11)), asked)


def new_knee(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """The old knee is worn out; another of the same kind is fitted."""
    acts.change(desk, who, "knee", desk.instant(day, time(15)))


def plan_overdue_review(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A review for a day that will pass."""
    with clock.at_instant(desk.instant(day, time(16, 30))):
        due = desk.day(-12)
        reviews.plan_review(actor=author, episode_id=_id(desk, who), due_on=due, note="Progress, and what next")


def override(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """Signed before it was proven, with the second lead's name and reason beside it."""
    fold, at = desk.fold(who), desk.instant(day, time(17, 10))
    words = fold.status_words(at)
    wanted = next(
        key for key in ("turns", "carry", "even_walk", "short_steps", "car") if words[key] in ("training", "open")
    )
    reason = "Walks so at home every day, seen on a visit there."
    acts.sign(desk, who, author, wanted, at, countersign=(desk.staff[SECOND_LEAD.username], reason))


def session_with_late_fact(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A session whose tablet loses the signal for a moment: one unsafe attempt stays on it."""
    session = desk.session(who, author, desk.instant(day, time(10)))
    session.open()
    work(session)
    session.attempt("stand_load", "bars_one", "stand_by")
    lost = session.at + timedelta(seconds=20)
    session.attempt("stand_load", "bars_one", "stand_by")
    session.close()
    desk.send(who, session)
    late = dict(session.facts[-4])
    late |= {"id": _new_id(who, day), "at": lost.isoformat(timespec="seconds"), "result": "unsafe"}
    desk.kept[who.number] = [late]


def late_fact(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """The tablet finds its signal again."""
    desk.record(author, who, desk.kept.pop(who.number), at=desk.instant(day, time(8, 5)))


def wrong_person(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """An attempt of somebody else's, struck out when it is noticed."""
    session = desk.session(who, author, desk.instant(day, time(11)))
    session.open()
    work(session)
    wrong = session.attempt("stand_load", "bars_both", "stand_by")
    session.close()
    desk.send(who, session)
    _strike(desk, who, day, author, wrong, "Recorded on the wrong person: it was somebody else's attempt.")


def correction(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """They say that an attempt was not so: written down beside it, for the lead to answer."""
    at = desk.instant(day, time(12, 10))
    attempts = Entry.objects.filter(episode=_id(desk, who), kind="attempt", at__lt=at)
    said = "That day I held on with both hands, not with one."
    with clock.at_instant(at):
        ask_correction(
            actor=author,
            episode_id=_id(desk, who),
            text=said,
            asked_by=f"{who.name}, in person",
            target=attempts.latest("at", "number").id,
        )


def strike_unsafe(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """An unsafe attempt, struck out as a slip of the finger: what was dangerous does not vanish quietly."""
    session = desk.session(who, author, desk.instant(day, time(11)))
    session.open()
    work(session)
    unsafe = session.attempt("stand_load", "bars_both", "stand_by", "unsafe")
    session.close()
    desk.send(who, session)
    _strike(desk, who, day, author, unsafe, "Wrong key: it was safe.")


def held_fact(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A near miss of nine days before, written up only now: too late to come in by itself."""
    said = {"circumstances": "Toe caught on the mat; held by the bars.", "action": "Rested, went on."}
    fact = _fact(desk, who, day - 9, time(10, 20), "near_miss", **said)
    desk.record(author, who, [fact], at=desk.instant(day, time(12)), expect={"held"})


def unsafe_pair(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """Something that was signed off goes wrong twice running."""
    session = desk.session(who, author, desk.instant(day, time(11)))
    words = session.fold.status_words(session.at)
    signed = [key for key in desk.ladder(who).order if words[key] == "signed_off" and key != "don_check"]
    session.open()
    for _ in range(2):
        session.attempt(signed[-1], desk.ladder(who).rungs(signed[-1])[0], "stand_by", "unsafe")
    session.close()
    desk.send(who, session)


def pause(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A planned operation on the other leg."""
    with clock.at_instant(desk.instant(day, time(9))):
        reason = "Operation on the other foot"
        first, back = desk.day(day), desk.day(day + 30)
        episodes.pause_episode(actor=author, episode_id=_id(desk, who), reason=reason, first_day=first, back_on=back)


def transfer(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """To the other site, and to a therapist there."""
    episode = Episode.objects.get(pk=_id(desk, who))
    reason = "Moved house: Quay Street is round the corner."
    with clock.at_instant(desk.instant(day, time(8, 30))):
        site = desk.sites[QUAY_STREET]
        episodes.transfer_episode(
            actor=desk.lead, episode_id=episode.pk, version=episode.version, site_id=site.pk, reason=reason
        )
        standing = Assignment.objects.get(episode=episode, period__contains=clock.now())
        assignments.reassign(
            actor=desk.lead,
            episode_id=episode.pk,
            staff_id=desk.staff[SORREL.username].pk,
            standing_id=standing.pk,
            version=standing.version,
            reason=reason,
        )


def leave_unsigned(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A last session; what it proves is left for the visitor to sign."""
    acts.hold_session(desk, who, desk.instant(day, time(13, 20)), signing=False)


def refused_fall(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A fall with a word that the record does not know."""
    fact = _fact(desk, who, day, time(9, 30), "fall", injury="a bruise")
    desk.record(author, who, [fact], at=desk.instant(day, time(9, 40)), expect={"refused"})


def missed(desk: Desk, who: Resident, day: int, author: Staff) -> None:
    """A session that was planned, and nobody came."""
    with clock.at_instant(desk.instant(day, time(8))):
        episode_id = _id(desk, who)
        planned = visits.plan_visits(actor=author, episode_id=episode_id, day=desk.day(day), wall=time(9, 5))[0]
    with clock.at_instant(desk.instant(day, time(10))):
        visits.set_visit_state(actor=author, visit_id=planned.pk, version=planned.version, state="missed")


def _ask(desk: Desk, who: Resident, day: int, author: Staff, setting: str, text: str) -> None:
    with clock.at_instant(desk.instant(day, time(16, 10))):
        requests.ask_adjustment(actor=author, episode_id=_id(desk, who), setting=setting, text=text)


def _strike(desk: Desk, who: Resident, day: int, author: Staff, fact: Fact, reason: str) -> None:
    strike = _fact(desk, who, day, time(16, 40), "struck_out", entry=fact["id"], reason=reason)
    desk.record(author, who, [strike], at=desk.instant(day, time(16, 41)))


def _fact(desk: Desk, who: Resident, day: int, wall: time, kind: str, **fields: object) -> Fact:
    local = datetime.combine(desk.day(day), wall, tzinfo=LOCAL)
    return {"id": _new_id(who, day, kind), "kind": kind, "at": local.isoformat(timespec="seconds"), **fields}


def _new_id(who: Resident, day: int, kind: str = "") -> str:
    chance = random.Random(f"{who.name}/{day}/{kind}")  # noqa: S311 - the same for the same demo
    return str(UUID(int=chance.getrandbits(128), version=4))


def _id(desk: Desk, who: Resident) -> UUID:
    return desk.episodes[who.number]


SCRIPTS: dict[str, Script] = {
    script.__name__: script
    for script in (
        come, fall_at_home, lock_left, cover, ask_alignment, ask_resistance, resistance, new_knee,
        plan_overdue_review, override, session_with_late_fact, late_fact, wrong_person, strike_unsafe, held_fact,
        unsafe_pair, pause, transfer, leave_unsigned, refused_fall, missed, correction,
    )
}  # fmt: skip  # a table, read by row
