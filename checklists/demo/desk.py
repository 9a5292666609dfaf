"""The hands of the simulator: acts as a member of staff, at an instant of the past, through the services of all."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from caseload.models import Assignment, Cover
from checklists.demo.cast import LEAD, PROSTHETIST, STAFF
from checklists.demo.ladder import Ladder
from checklists.demo.roster import Resident
from checklists.demo.session import Session, Walker
from checklists.demo.telephones import Telephones
from checklists.domain import Episode as Fold
from checklists.domain import Protocol
from checklists.record.models import Head
from checklists.record.services import record_entries
from checklists.record.verdict import Recorded
from clinic import clock
from clinic.staff.models import Site, Staff

ZONE = "Europe/London"
LOCAL = ZoneInfo(ZONE)
EXPIRED_SINCE = -45  # the day on which the expired authorisations of the cast ran out


class Desk:
    """The clinic's people and places, and where each resident of the demo stands."""

    def __init__(self, protocol: Protocol, day_zero: date, telephone: int = 0) -> None:
        self.protocol, self.day_zero = protocol, day_zero
        self.telephones = Telephones(telephone)
        self.sites = {site.name: site for site in Site.objects.all()}
        self.staff = {who.username: who for who in Staff.objects.all()}
        self.episodes: dict[int, UUID] = {}
        self.references: dict[int, str] = {}
        self.sessions: dict[int, int] = {}  # how many each has had
        self.pending: dict[int, str] = {}  # the mistake that waits for its session
        self.falls: dict[int, list[str]] = {}  # falls that nobody has looked at
        self.kept: dict[int, list[dict[str, Any]]] = {}  # facts on a tablet without signal
        self._slots: dict[tuple[date, str], int] = {}
        self._by_key = {who.pk: who for who in self.staff.values()}
        self._ladders: dict[str, Ladder] = {}

    @property
    def lead(self) -> Staff:
        """Who takes referrals and assigns."""
        return self.staff[LEAD.username]

    @property
    def prosthetist(self) -> Staff:
        """Who works at the bench."""
        return self.staff[PROSTHETIST.username]

    def identifier(self, who: Resident) -> str:
        """The number by which the (invented) referrer knows them: it finds them again at a later start."""
        return f"INV {who.number + 1:05}"

    def knows(self, number: int, episode_id: UUID, reference: str) -> None:
        """Remember which episode is a resident's."""
        self.episodes[number], self.references[number] = episode_id, reference

    # --- time -------------------------------------------------------------------------------------------------------
    def day(self, offset: int) -> date:
        """The date of a day counted from the first start."""
        return self.day_zero + timedelta(days=offset)

    def instant(self, offset: int, wall: time) -> datetime:
        """An instant of such a day, by the clinic's own clocks."""
        return clock.instant_of(self.day(offset), wall, ZONE)

    def written(self, at: datetime) -> str:
        """An instant as it is written in the record: with the site's offset."""
        return at.astimezone(LOCAL).isoformat(timespec="seconds")

    def slot(self, day: date, who: Staff) -> time:
        """The next free time of a therapist's day; after ten, the day begins again, and two are seen at once."""
        number = self._slots.get((day, who.username), 0)
        self._slots[day, who.username] = number + 1
        minutes = 8 * 60 + 50 + 45 * (number % 10) + 5 * (number // 10)
        return time(minutes // 60, minutes % 60)

    # --- who --------------------------------------------------------------------------------------------------------
    def carrier(self, episode_id: UUID, at: datetime) -> Staff | None:
        """Who sees the person then: whoever covers, else whoever carries them."""
        for rows in (Cover.objects, Assignment.objects):
            found = rows.filter(episode_id=episode_id, period__contains=at).values_list("staff_id", flat=True).first()
            if found is not None:
                return self._by_key[found]
        return None

    def authorised(self, author: Staff, skill: str, at: datetime) -> bool:
        """Whether somebody may sign a skill then, as far as the cast says."""
        member = next((who for who in STAFF if who.username == author.username), None)
        if member is None:
            return False
        held = {*member.features}
        if at < self.instant(EXPIRED_SINCE, time(0)):
            held |= {*member.expired}
        return {*self.protocol.skills[skill].needs} <= {*held, "resistance"}

    def ladder(self, who: Resident) -> Ladder:
        """The protocol as it reads for them."""
        return self._ladders.setdefault(who.side, Ladder(self.protocol.document, who.side))

    def new_id(self, who: Resident, *what: object) -> str:
        """An id that comes out the same at every first start on the same day."""
        chance = random.Random(f"{who.name}/{what}")  # noqa: S311 - the same for the same demo
        return str(UUID(int=chance.getrandbits(128), version=4))

    # --- the record -------------------------------------------------------------------------------------------------
    def fold(self, who: Resident) -> Fold:
        """Where their record stands."""
        snapshot = Head.objects.values_list("snapshot", flat=True).get(episode=self.episodes[who.number])
        return Fold.restore(self.protocol, bytes(snapshot))

    def is_the_visitors(self, episode_id: UUID, at: datetime) -> bool:
        """Whether somebody recorded a fact of them that is later than this: a visitor, while their year goes by."""
        return Head.objects.filter(episode=episode_id, last_at__gt=at).exists()

    def session(self, who: Resident, author: Staff, begins: datetime, *, role: str = "therapist") -> Session:
        """A session in the making, with the clinic's own offset."""
        local = begins.astimezone(LOCAL).replace(second=0, microsecond=0)
        walker = Walker(self.references[who.number], who.side, who.skill, who.skills_a_session)
        seed = f"{who.number}/{local:%Y-%m-%d %H:%M}"
        return Session(self.protocol, self.fold(who), walker, by=author.reference, role=role, begins=local, seed=seed)

    def send(self, who: Resident, session: Session) -> Recorded:
        """Record what a session made, as one batch, a minute after its last fact."""
        author = next(one for one in self.staff.values() if one.reference == session.by)
        return self.record(author, who, session.facts, at=session.at + timedelta(minutes=1))

    def record(
        self,
        author: Staff,
        who: Resident,
        facts: Sequence[dict[str, Any]],
        *,
        at: datetime,
        expect: Iterable[str] = ("accepted",),
    ) -> Recorded:
        """Record facts as somebody; an outcome other than the expected is a fault of the simulator."""
        stamped = ("by", "role", "episode")  # by the server
        sent = [{name: value for name, value in fact.items() if name not in stamped} for fact in facts]
        with clock.at_instant(at):
            recorded = record_entries(actor=author, episode_id=self.episodes[who.number], entries=sent)
        wrong = [one for one in recorded.verdicts if one.outcome not in {*expect}]
        if wrong:
            raise RuntimeError(f"{who.name}, {at}: {wrong[0].outcome}: {wrong[0].error}")
        return recorded
