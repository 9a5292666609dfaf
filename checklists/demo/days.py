"""Day after day at the demo clinic: what happens on each, in the order of the clock."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, time
from functools import partial

from caseload.models import Visit
from checklists.demo import acts, scripts
from checklists.demo.desk import Desk
from checklists.demo.roster import Resident
from checklists.demo.situations import SITUATIONS
from checklists.record.models import Entry
from clinic.errors import Refusal

Act = tuple[datetime, Callable[[], None]]


class Days:
    """The simulator's calendar. `forgiving`: what a visitor has changed may stand in the way, and is left so."""

    def __init__(self, desk: Desk, residents: list[Resident], *, forgiving: bool) -> None:
        self.desk, self.residents, self.forgiving = desk, residents, forgiving

    def live(self, day: int) -> None:
        """One whole day, but for its evening."""
        self._do(self._morning(day))
        self._do(self._sessions(day))

    def _do(self, planned: Iterator[Act]) -> None:
        for _, act in sorted(planned, key=lambda one: one[0]):
            try:
                act()
            except Refusal:
                if not self.forgiving:
                    raise

    def _morning(self, day: int) -> Iterator[Act]:
        """Referrals, first sessions, what the scripts say, the bench at noon."""
        desk = self.desk
        for who in self.residents:
            if who.referred == day:
                yield desk.instant(day, time(8, 15)), partial(acts.refer, desk, who, day)
            if who.begins == day and who.number not in desk.episodes:
                yield desk.instant(day, time(8, 20)), partial(acts.begin, desk, who, day)
            for when, name in SITUATIONS[who.situation].script if who.situation else ():
                if when == day:
                    yield desk.instant(day, time(8, 40)), partial(self._script, who, day, name)
            if desk.falls.get(who.number):
                yield desk.instant(day, time(9, 15)), partial(acts.look_at_falls, desk, who, day)
        yield desk.instant(day, time(12, 30)), lambda: acts.answer_requests(desk, self._by_episode(), day)

    def _sessions(self, day: int) -> Iterator[Act]:
        start, end = self.desk.instant(day, time(0)), self.desk.instant(day + 1, time(0))
        by_episode = self._by_episode()
        for visit in Visit.objects.filter(starts_at__gte=start, starts_at__lt=end, state="planned").order_by(
            "starts_at"
        ):
            who = by_episode.get(visit.episode_id)
            if who is not None:
                yield visit.starts_at, partial(self._visit, who, visit, day)

    def _visit(self, who: Resident, visit: Visit, day: int) -> None:
        desk, at = self.desk, visit.starts_at
        author = desk.carrier(visit.episode_id, at)
        if author is None or _is_quiet(who, day) or desk.is_the_visitors(visit.episode_id, at):
            return
        ends = at if self._has_been_seen(visit, day) else acts.hold_session(desk, who, at)
        acts.came(desk, author, visit, ends)
        if who.ends is not None and day >= who.ends:
            acts.finish(desk, who, author, ends)
            return
        acts.adjust(desk, who, author, ends)
        acts.plan_next(desk, who, author, day, ends)

    def _has_been_seen(self, visit: Visit, day: int) -> bool:
        """Whether a visitor of the demo recorded a session that day."""
        if not self.forgiving:
            return False
        start, end = self.desk.instant(day, time(0)), self.desk.instant(day + 1, time(0))
        return Entry.objects.filter(episode=visit.episode_id, kind="attempt", at__gte=start, at__lt=end).exists()

    def _script(self, who: Resident, day: int, name: str) -> None:
        if who.number not in self.desk.episodes:
            return  # they had not begun when the days that are looked back on began
        episode_id, at = self.desk.episodes[who.number], self.desk.instant(day, time(8, 40))
        author = self.desk.carrier(episode_id, at)
        if author is not None and not self.desk.is_the_visitors(episode_id, at):
            scripts.SCRIPTS[name](self.desk, who, day, author)

    def _by_episode(self) -> dict[object, Resident]:
        return {self.desk.episodes[who.number]: who for who in self.residents if who.number in self.desk.episodes}


def _is_quiet(who: Resident, day: int) -> bool:
    """Whether the simulator leaves them to the visitor by now."""
    return bool(who.situation) and day >= SITUATIONS[who.situation].quiet_from
