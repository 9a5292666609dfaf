"""The Bench page: the queue, one person's knee with its history, and the price of a change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from urllib.parse import quote
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.assignment.selectors import hands
from caseload.episode.models import Episode
from caseload.episode.selectors import Plan, plan
from caseload.prosthesis.selectors import Device, devices
from caseload.request.models import Setting
from caseload.request.selectors import Asked, answered_requests, open_requests, request_of
from caseload.request.worth import Answered, answered
from checklists.bench.cost import Cost, cost
from checklists.bench.parts import InHand, Stage, Way, in_hand
from checklists.bench.price import Price
from checklists.person.exchanged import Apart, Unrecorded, Unregistered, apart, unrecorded, unregistered
from checklists.person.settings import Change
from checklists.record.models import Head
from checklists.today.rows import feature_words
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.staff.models import Staff
from clinic.watch import selectors as watch

SETTINGS = tuple(Setting.values)
FIRST = 20  # of those without a prosthesis in the register
MONTH, YEAR = timedelta(days=31), timedelta(days=366)


@dataclass(frozen=True, slots=True)
class Bench:
    """The queue, oldest first, and what stands beside it."""

    at: datetime
    queue: Sequence[Asked]
    old: int
    in_care: int
    unregistered: Sequence[tuple[UUID, str]]
    more: bool  # than these are unregistered
    answered: Sequence[Answered]
    earlier: bool
    making: bool  # the invented clinic is not there yet: nothing asked means nothing


@dataclass(frozen=True, slots=True)
class Work:
    """One person at the bench: the request in hand if there is one, the setting chosen, and what it would cost."""

    at: datetime
    plan: Plan
    therapist: str
    asked: Asked | None
    setting: str
    setting_words: str
    marks: Sequence[int]
    devices: Sequence[Device]
    lacks: Sequence[Unregistered | None]  # of each device: the exchange of its knee that the register has not got
    cost: Cost
    unrecorded: Sequence[Unrecorded]
    apart: Sequence[Apart]
    hand: InHand
    way: Way
    begun: bool  # something is in the record besides the opening

    @property
    def stage(self) -> Stage:
        """What the form writes."""
        return self.hand.stage

    @property
    def device(self) -> Device | None:
        """The prosthesis in hand, where that is certain."""
        return self.hand.device

    @property
    def wearing(self) -> list[tuple[Device, Unregistered | None]]:
        """Each prosthesis, with the knee that only the record knows of where there is one."""
        return list(zip(self.devices, self.lacks, strict=True))

    @property
    def knee_said(self) -> bool:
        """Whether a change has said what the knee has, since the opening."""
        return any(one.key == Setting.KNEE for one in self.cost.standing)

    @property
    def today(self) -> date:
        """By the site's calendar."""
        return clock.local_day(self.at, self.plan.zone)

    @property
    def has_knee(self) -> bool:
        """Whether the register has a knee that is worn."""
        return any(device.knee for device in self.devices)

    @property
    def nothing_yet(self) -> bool:
        """Whether there is no knee that could be changed: none is registered, and nothing says that one is worn."""
        return not self.devices and not self.begun and self.asked is None

    @property
    def answers(self) -> Asked | None:
        """The request that this answers: the one in hand, where it asks for the setting chosen."""
        return self.asked if self.asked and self.asked.setting == self.setting else None

    @property
    def submit(self) -> str:
        """What the button does, all of it."""
        rows = len(self.price.rows)
        if self.stage == Stage.REGISTER:
            return _("Put it in the register")
        if self.stage == Stage.FIRST:
            return _("Fit the knee")
        knee = self.stage in (Stage.EXCHANGE, Stage.AGAIN) and self.setting == Setting.KNEE
        what = _("Record the exchange") if knee else _("Record the change")
        back = ngettext("set {n} skill back", "set {n} skills back", rows).format(n=rows) if rows else ""
        answers = _("answer {name}").format(name=self.answers.asked_by) if self.answers else ""
        return ", ".join(filter(None, (what, back, answers)))

    @property
    def choices(self) -> list[tuple[str, str]]:
        """What can be changed."""
        return [(key, str(Setting(key).label)) for key in _offered(self.plan, self.setting)]

    @property
    def price(self) -> Price:
        """What it sets back."""
        return self.cost.price

    @property
    def value(self) -> str:
        """What the setting is now, where the record knows it; else the part that the register names."""
        return self.cost.value or self._before

    @property
    def known(self) -> str:
        """What that value is: the present one, or the one before a change that is made already."""
        words = self.setting_words.capitalize()
        if self.cost.made:
            return _("{setting_words} before the change").format(setting_words=words)
        said = _("{setting_words} until now") if self.hand.part else _("{setting_words} now")
        return said.format(setting_words=words)

    @property
    def history(self) -> Sequence[Change]:
        """Every change so far, newest first, with those that were struck out."""
        return self.cost.history

    @property
    def since_asked(self) -> Sequence[Change]:
        """What was changed since the request in hand was made and still holds, newest first."""
        return [one for one in self.cost.standing if self.asked and one.at >= self.asked.asked_at]

    @property
    def split(self) -> str:
        """'7 to be proven again, 2 that rest on them, 1 more waits: Slope up'; nothing where the first is all."""
        back, rest, until = len(self.price.back), len(self.price.rest), self.price.until
        again = _("{n} to be proven again").format(n=back) if back and rest else ""
        more = ngettext("{n} more waits: {skills}", "{n} more wait: {skills}", len(until)) if until else ""
        more = more.format(n=len(until), skills=", ".join(until))
        return ", ".join(filter(None, (again, _resting(rest) if again else "", more)))

    @property
    def made_at(self) -> str:
        """When it was made, as an address says it."""
        return quote(self.cost.made.isoformat()) if self.cost.made else ""

    @property
    def features(self) -> str:
        """What the knee can do, as recorded."""
        return feature_words(self.plan.knee)

    @property
    def _before(self) -> str:
        """What the register says was worn before the part in hand, else is worn now."""
        if len(self.devices) != 1 or self.plan.side == "both":
            return ""
        worn, part = self.devices[0], self.hand.part
        before = worn.before(part) if part else worn.worn(self.setting)
        return before.words if before else ""

    @property
    def said(self) -> str:
        """What follows, for whoever has just recorded it."""
        back, rest = len(self.price.back), len(self.price.rest)
        again = ngettext("{n} skill to be proven again", "{n} skills to be proven again", back).format(n=back)
        skills = again if back else _("No signed skill was set back")
        skills = f"{skills}, {_resting(rest)}." if rest else f"{skills}."
        told = _("Whoever asked is told, and who leads the sessions now.") if self.answers else ""
        return " ".join(filter(None, (skills, told)))


def bench(actor: Staff, *, at: datetime, earlier: bool = False) -> Bench:
    """The queue and the register's gaps, for whoever answers requests; what was answered within a month, or a year."""
    access.permit(actor, Action.ANSWER_ADJUSTMENT, at)
    queue = open_requests(actor, at=at)
    open_now = access.scoped(actor, Action.SEE_PERSON, Episode.objects.filter(closed_at__isnull=True), at=at)
    without = open_now.filter(prostheses__isnull=True).select_related("person").order_by("person__family_name")
    first = list(without[: FIRST + 1])
    return Bench(
        at=at,
        queue=queue,
        old=sum(1 for asked in queue if asked.is_old),
        in_care=open_now.count(),
        unregistered=[(episode.pk, episode.person.full_name) for episode in first[:FIRST]],
        more=len(first) > FIRST,
        answered=answered(answered_requests(actor, since=at - (YEAR if earlier else MONTH), at=at)),
        earlier=earlier,
        making=watch.state().making,
    )


def _resting(rest: int) -> str:
    return ngettext("{n} that rests on them", "{n} that rest on them", rest).format(n=rest)


def work(
    actor: Staff,
    episode_id: UUID,
    *,
    at: datetime,
    request_id: UUID | None = None,
    setting: str | None = None,
    made: str = "",
    way: Way | None = None,
) -> Work:
    """One person at the bench. `setting`: what would be changed; by default what was asked for, else what is offered
    first. `made`: when it was, as an address says it, where that was earlier; `way`: how they came to it."""
    access.permit(actor, Action.ANSWER_ADJUSTMENT, at)
    way = way or Way()
    head = plan(actor, episode_id, at=at)
    asked = request_of(actor, request_id, at=at) if request_id else None
    if asked is not None and asked.episode_id != episode_id:
        raise NotFound(_("That request is about somebody else. Begin again at the Bench."))
    chosen = setting if setting in SETTINGS else asked.setting if asked else _offered(head)[0]
    record = Head.objects.select_related("episode__site").filter(episode_id=episode_id).first()
    if record is None:
        raise NotFound(_("This person's record has not begun yet: there is no knee to change."))
    worn = devices(actor, episode_id, at=at)
    costs = cost(record, chosen, at=at, made=_earlier(made, head.zone, at))
    missing = unrecorded(worn, costs.standing, head.zone)
    return Work(
        at=at,
        plan=head,
        therapist=hands(actor, episode_id, at=at).led_by,
        asked=asked,
        setting=chosen,
        setting_words=str(Setting(chosen).label),
        marks=_marks(worn) if chosen == Setting.RESISTANCE else (),
        devices=worn,
        lacks=[unregistered(device, costs.standing, head.zone, Setting.KNEE) for device in worn],
        cost=costs,
        unrecorded=missing,
        apart=apart(worn, costs.standing, head.zone),
        hand=in_hand(chosen, worn, costs, missing, head.zone, way),
        way=way,
        begun=record.entries > 1,
    )


def _offered(plan: Plan, chosen: str = "") -> list[str]:
    """The settings in the order in which they are offered: the resistance first where the knee has it, last where
    nobody knows (or one of two knees may have it), and not at all where it has none. It stays where it is `chosen`: a
    request for it is answered, and a change of it that was struck out is recorded again, whatever the knee is said to
    have."""
    resistance, others = [Setting.RESISTANCE.value], [one for one in SETTINGS if one != Setting.RESISTANCE]
    if Setting.RESISTANCE in (plan.knee or ()):
        return [*resistance, *others]
    possible = plan.knee is None or plan.side == "both" or chosen == Setting.RESISTANCE
    return [*others, *resistance] if possible else others


def _earlier(text: str, zone: str, at: datetime) -> datetime | None:
    """An instant before now that an address names, by the site's clocks where it names no others; else nothing."""
    try:
        made = datetime.fromisoformat(text)
    except ValueError:
        return None
    made = made if made.tzinfo else made.replace(tzinfo=ZoneInfo(zone))
    return made if made < at else None


def _marks(worn: Sequence[Device]) -> list[int]:
    """The marks of the resistance that all registered prostheses have between them."""
    if not worn:
        return []
    return list(range(min(one.resistance_low for one in worn), max(one.resistance_high for one in worn) + 1))
