"""What the demo's days are made of: somebody is referred, begins, comes, is signed off, and one day is done."""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from uuid import UUID

from caseload.models import AdjustmentRequest, Episode, Person, PlannedReview, Prosthesis, Referral, Visit
from caseload.person.details import PersonDetails
from caseload.person.services import add_weight
from caseload.prosthesis.services import fit_component, register_prosthesis
from caseload.referral.details import ReferralDetails
from caseload.referral.services import take_referral
from caseload.request.services import ask_adjustment, see_request
from caseload.review.services import plan_review
from caseload.visit.services import plan_visits, set_visit_state
from checklists.alerts.services import acknowledge
from checklists.demo.cast import PASSWORD
from checklists.demo.course import to_sign
from checklists.demo.desk import Desk
from checklists.demo.mistakes import IN_HAND, MISTAKES
from checklists.demo.roster import Resident
from checklists.demo.session import Session, work
from checklists.demo.situations import SITUATIONS
from checklists.episode.exchanges import exchange_part
from checklists.episode.services import change_setting, close_episode, open_episode
from checklists.record.verdict import Recorded
from checklists.signoff.services import Countersign, readiness, sign_off
from clinic import clock
from clinic.staff.models import Staff
from clinic.staff.sitting import sitting

NEW_FOR, REVIEW_EVERY, RECENT = 56, 42, -6  # days
PRONOUNS = ("she", "he", "she", "he", "they")
WANTED = {
    "resistance": "Yields too early on the slope: a little stiffer, please.",
    "alignment": "Foot turns out in swing; please look at the rotation.",
}
ANSWERED = {
    "resistance": ("4", "5"),
    "alignment": ("foot out 7°", "foot out 5°"),
}
KIN = ("Sister", "Husband", "Wife", "Son", "Neighbour")


def refer(desk: Desk, who: Resident, day: int) -> None:
    """The lead takes a referral: the person waits."""
    if Person.objects.filter(second_identifier=desk.identifier(who)).exists():
        return  # the day is lived a second time, after a start that was cut off
    chance = random.Random(f"{who.name}/person")  # noqa: S311 - the same for the same demo
    person = PersonDetails(
        number=f"{desk.day(day).year % 100:02}-{who.number + 1:04}",
        second_identifier=desk.identifier(who),
        given_name=who.given,
        family_name=who.family,
        born_on=date(who.born, chance.randint(1, 12), chance.randint(1, 28)),
        pronoun=PRONOUNS[who.number % len(PRONOUNS)],
        phone=f"00000 {chance.randint(100, 999)} {chance.randint(100, 999)}",
        address=f"{chance.randint(1, 90)} Invented Lane, Alder Reach",
        next_of_kin=f"{chance.choice(KIN)}: 00000 {chance.randint(100, 999)} 000",
    )
    details = ReferralDetails(
        received_on=desk.day(day),
        reason=who.reason,
        urgency=who.urgency,
        level=who.level,
        side=who.side,
        features=who.features,
        referrer="Alder Reach General Hospital (invented)",
    )
    with clock.at_instant(desk.instant(day, time(8, 15))):
        take_referral(actor=desk.lead, site_id=desk.sites[who.site].pk, details=details, person=person)


def begin(desk: Desk, who: Resident, day: int) -> None:
    """The lead assigns them and opens the episode; the prosthetist registers what they wear; they come at once."""
    refer(desk, who, day)  # if that was before the days that are looked back on
    therapist = desk.staff[who.therapist.username]
    referral = Referral.objects.get(person__second_identifier=desk.identifier(who), accepted_at=None)
    with clock.at_instant(desk.instant(day, time(8, 20))):
        episode = open_episode(actor=desk.lead, referral_id=referral.pk, therapist_id=therapist.pk)
    desk.knows(who.number, episode.pk, episode.reference)
    with clock.at_instant(desk.instant(day, time(8, 25))):
        for side in ("left", "right") if who.side == "both" else (who.side,):
            _register(desk, episode, side, who)
        weight = Decimal(52 + who.number % 45)
        add_weight(actor=therapist, person_id=episode.person_id, kg=weight, measured_on=desk.day(day))
        plan_review(actor=therapist, episode_id=episode.pk, due_on=desk.day(day + REVIEW_EVERY), note="Progress")
        today = desk.day(day)
        plan_visits(actor=therapist, episode_id=episode.pk, day=today, wall=desk.slot(today, therapist), minutes=60)


def _register(desk: Desk, episode: Episode, side: str, who: Resident) -> Prosthesis:
    made = register_prosthesis(
        actor=desk.prosthetist, episode_id=episode.pk, side=side, label=f"Demo prosthesis, {side}"
    )
    parts = (("socket", "Socket, invented"), ("knee", first_knee(who)), ("foot", "Demo foot"))
    for kind, description in parts:
        fit_component(actor=desk.prosthetist, prosthesis_id=made.pk, kind=kind, description=description)
    return made


def hold_session(desk: Desk, who: Resident, begins: datetime, *, signing: bool = True) -> datetime:
    """They come: what is recorded, what is signed off after it, how mistakes are answered. Returns its end."""
    author = desk.carrier(desk.episodes[who.number], begins)
    if author is None:
        return begins
    session = desk.session(who, author, begins)
    if desk.pending.get(who.number) == "assistant_limits":
        session = desk.session(who, desk.staff["pia"], begins, role="assistant")
    _open(desk, who, session)
    _review(desk, who, session)
    mistake = MISTAKES.get(desk.pending.get(who.number, ""))
    if mistake is not None and mistake(session):
        del desk.pending[who.number]
    work(session)
    session.close()
    recorded = desk.send(who, session)
    desk.sessions[who.number] = desk.sessions.get(who.number, 0) + 1
    desk.falls[who.number] = [fact["id"] for fact in session.facts if fact["kind"] == "fall"]
    _answer(desk, who, author, recorded, session.at)
    if signing:
        sign_what_is_proven(desk, who, author, session.at)
    return session.at


def _open(desk: Desk, who: Resident, session: Session) -> None:
    """Open it; the one mistake that comes before everything else is made here."""
    known = session.fold.status_words(session.at)["stand_load"] == "signed_off"
    if desk.pending.get(who.number) != "start_check" or not known:
        session.open()
        return
    del desk.pending[who.number]
    session.add("session_opened", after_s=0)
    session.attempt(*IN_HAND)
    session.start_check()


def look_at_falls(desk: Desk, who: Resident, day: int) -> None:
    """The morning after a fall: it is looked at and cleared."""
    at = desk.instant(day, time(9, 15))
    author, falls = desk.carrier(desk.episodes[who.number], at), desk.falls.pop(who.number)
    if author is not None and falls:
        fact = {"id": desk.new_id(who, at), "kind": "review", "at": desk.written(at), "of": falls, "outcome": "cleared"}
        desk.record(author, who, [fact], at=at + timedelta(minutes=1))


def _review(desk: Desk, who: Resident, session: Session) -> None:
    """Hold the review that is due this week; only therapists do. The record plans the next."""
    if session.role != "therapist" or who.situation == "overdue_review":
        return
    today = session.at.date()
    due = PlannedReview.objects.filter(
        episode=desk.episodes[who.number], kind="routine", done_at=None, cancelled_at=None
    )
    if due.filter(due_on__lte=today + timedelta(days=7)).exists():
        session.add("review", next_due=(today + timedelta(days=REVIEW_EVERY)).isoformat())


def _answer(desk: Desk, who: Resident, author: Staff, recorded: Recorded, at: datetime) -> None:
    """What was raised is answered the same afternoon; of the last days it is left for the visitor."""
    for entry in dict.fromkeys(alert.entry for alert in recorded.raised):
        if (at.date() - desk.day_zero).days < RECENT:
            with clock.at_instant(at + timedelta(hours=1)):
                text = "Stopped, talked it through, and put right; the colleague knows."
                acknowledge(actor=author, episode_id=desk.episodes[who.number], entry=UUID(entry), text=text)


def sign_what_is_proven(desk: Desk, who: Resident, author: Staff, at: datetime) -> None:
    """Sign off what the evidence carries, if the therapist may."""
    fold = desk.fold(who)
    for key in to_sign(desk.ladder(who), fold, at):
        if not desk.authorised(author, key, at) or _kept_for_later(desk, who, key, at):
            continue
        at += timedelta(minutes=1)
        sign(desk, who, author, key, at)


def _kept_for_later(desk: Desk, who: Resident, key: str, at: datetime) -> bool:
    """One sign-off of the tour must fall on a certain day."""
    day = (at.date() - desk.day_zero).days
    return who.situation == "lapsed" and key == "stair_up" and day < SITUATIONS["lapsed"].script[1][0]


def sign(
    desk: Desk, who: Resident, author: Staff, key: str, at: datetime, *, countersign: tuple[Staff, str] | None = None
) -> None:
    """Sign one skill off, with the evidence as it is shown; a second lead beside it, with a reason."""
    episode_id, telephones = desk.episodes[who.number], desk.telephones
    with clock.at_instant(at), sitting(telephones.sitting_of(author)):
        shown = readiness(actor=author, episode_id=episode_id, skill=key)
        second = None
        if countersign is not None:
            lead, reason = countersign
            second = Countersign(lead.username, PASSWORD, reason, telephones.code_of(lead))
        proof = telephones.proof_of(author)
        sign_off(actor=author, episode_id=episode_id, skill=key, digest=shown.digest, proof=proof, countersign=second)


def adjust(desk: Desk, who: Resident, author: Staff, at: datetime) -> None:
    """Ask for the adjustment that is planned for after this session, if there is one."""
    setting = who.adjustments.get(desk.sessions.get(who.number, 0))
    if setting:
        with clock.at_instant(at + timedelta(minutes=20)):
            episode_id = desk.episodes[who.number]
            ask_adjustment(actor=author, episode_id=episode_id, setting=setting, text=WANTED[setting])


def answer_requests(desk: Desk, residents: dict[object, Resident], day: int) -> None:
    """The bench, at noon: new requests are read, older ones done. One is forgotten: that is the tour's."""
    noon = desk.instant(day, time(12, 30))
    for request in AdjustmentRequest.objects.filter(state__in=("asked", "seen"), asked_at__lt=noon):
        who = residents.get(request.episode_id)
        if who is None or who.situation in ("old_request", "resistance_changed"):
            continue
        if noon - request.asked_at > timedelta(days=2):
            change(desk, who, request.setting, noon, request)
        elif request.state == "asked":
            with clock.at_instant(noon):
                see_request(actor=desk.prosthetist, request_id=request.pk, version=request.version)


def first_knee(who: Resident) -> str:
    """What the register calls the knee that they came with."""
    return f"Demo knee {len(who.features)}"


def change(desk: Desk, who: Resident, setting: str, at: datetime, request: AdjustmentRequest | None = None) -> None:
    """The prosthetist changes something, answering a request where there is one."""
    before, after = ANSWERED.get(setting, (first_knee(who), "Demo knee, new"))  # a knee goes into the register as well
    one_knee = "left" if who.side == "both" and setting in ("knee", "resistance") else None
    with clock.at_instant(at):
        do: Callable[..., object] = exchange_part if setting == "knee" else change_setting
        do(
            actor=desk.prosthetist,
            episode_id=desk.episodes[who.number],
            setting=setting,
            before=before,
            to=after,
            features=sorted(who.features) if setting == "knee" else None,
            knee=one_knee,
            entry_id=UUID(desk.new_id(who, setting, at)),
            request_id=request.pk if request else None,
            version=request.version if request else 0,
        )


def plan_next(desk: Desk, who: Resident, author: Staff, after: int, at: datetime) -> None:
    """The next session: every few days at first, then weekly, then every three weeks."""
    chance = random.Random(f"{who.name}/{after}")  # noqa: S311 - the same for the same demo
    age = after - (who.begins or 0)
    rest = chance.choice((4, 5, 6, 7)) if age < NEW_FOR else chance.choice((7, 9, 11)) if age < 2 * NEW_FOR else 21
    following = after + rest
    if who.away and who.away[0] <= following < who.away[1]:
        following = who.away[1]
    plan_on(desk, who, author, following, at)


def plan_on(desk: Desk, who: Resident, author: Staff, day: int, at: datetime) -> None:
    """Plan a session on a certain day, at the therapist's next free time."""
    with clock.at_instant(at + timedelta(minutes=5)):
        wall = desk.slot(desk.day(day), author)
        plan_visits(actor=author, episode_id=desk.episodes[who.number], day=desk.day(day), wall=wall)


def came(desk: Desk, author: Staff, visit: Visit, at: datetime) -> None:
    """Say that they came."""
    with clock.at_instant(at):
        set_visit_state(actor=author, visit_id=visit.pk, version=visit.version, state="came")


def finish(desk: Desk, who: Resident, author: Staff, at: datetime) -> None:
    """The last session: the episode is closed."""
    with clock.at_instant(at + timedelta(minutes=30)):
        close_episode(actor=author, episode_id=desk.episodes[who.number], reason="Goals reached; knows whom to call.")
