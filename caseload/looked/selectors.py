"""Who looked at this person, when and why: from the trail, a line for each member of staff and day."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, Q, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from caseload.emergency.models import EmergencyAccess
from caseload.episode.models import Episode
from caseload.person.models import Person
from clinic import access, clock
from clinic.access import Action
from clinic.access.standing import beyond
from clinic.audit.models import TrailRow
from clinic.errors import NotFound
from clinic.staff.models import RoleTerm, Staff
from clinic.staff.roles import Role
from clinic.staff.selectors import who_may

# Verbs that show a person or take something of theirs out of the house; everything else about them was written.
SHOWN = {
    "person.opened": gettext_noop("opened"),
    "plan.opened": gettext_noop("opened the plan"),
    "person.printed": gettext_noop("printed"),
    "person.taken": gettext_noop("took onto a tablet"),
    "record.exported": gettext_noop("took the record out"),
    "person.exported": gettext_noop("took the record out"),
    "proof.exported": gettext_noop("took a proof out"),
    "emergency.opened": gettext_noop("opened in an emergency"),
}
READ = tuple(verb for verb in SHOWN if verb != "person.taken")  # a tablet takes along whom nobody has looked at yet
WROTE = gettext_noop("wrote")
# The pages, and why they might, as the trail names them: in English, as everything that is kept.
PAGES = (
    *(gettext_noop("person and contact"), gettext_noop("person"), gettext_noop("floor"), gettext_noop("correction")),
    *(gettext_noop("keeping"), gettext_noop("bench"), gettext_noop("api: corrections"), gettext_noop("proof")),
)
WHY = (
    *(gettext_noop("carries them"), gettext_noop("covers"), gettext_noop("by role"), gettext_noop("same site")),
    gettext_noop("emergency access"),
)


@dataclass(slots=True)
class Look:
    """What one member of staff did about the person on one day. `roles`: those that they held that day."""

    day: date
    name: str
    reference: str
    roles: tuple[str, ...]
    first: datetime
    last: datetime
    times: int = 0
    what: set[str] = field(default_factory=set)
    pages: set[str] = field(default_factory=set)
    why: set[str] = field(default_factory=set)

    @property
    def told(self) -> str:
        """What was done and on which pages, in words."""
        pages = f": {', '.join(sorted(_(page) for page in self.pages))}" if self.pages else ""
        times = (
            " (" + ngettext("{n} time", "{n} times", self.times).format(n=self.times) + ")" if self.times > 1 else ""
        )
        return f"{', '.join(sorted(_(what) for what in self.what))}{pages}{times}"

    @property
    def reasons(self) -> str:
        """Why they might, in words; writing needs its own right, which the trail's other columns tell."""
        return ", ".join(sorted(self.why)) or _("their work")


@dataclass(frozen=True, slots=True)
class Looks:
    """The answer to the question, newest day first."""

    person: str
    number: str
    born_on: date
    first: date
    last: date
    looks: tuple[Look, ...]


def who_looked(actor: Staff, number: str, *, first: date, last: date, at: datetime) -> Looks:
    """Everybody who saw or wrote something of this person between two days, both included, by the site's clocks.

    For whoever reads the trail. NotFound: nobody has this number.
    """
    access.permit(actor, Action.SEE_TRAIL, at)
    person = Person.objects.select_related("site").filter(number__iexact=number.strip()).first()
    if person is None:
        raise NotFound(_("Nobody has this number. It stands on the person's letters, and in the trail."))
    zone = ZoneInfo(person.site.time_zone)
    start = datetime(first.year, first.month, first.day, tzinfo=zone)
    end = datetime(last.year, last.month, last.day, tzinfo=zone) + timedelta(days=1)
    about = Q(episode__in=person.episodes.values("pk")) | Q(subject="person", subject_id=str(person.pk))
    rows = TrailRow.objects.filter(about, at__gte=start, at__lt=end, actor__isnull=False).select_related("actor")
    found = _by_day(rows.order_by("number"), zone)
    return Looks(person.full_name, person.number, person.born_on, first, last, tuple(found))


@dataclass(frozen=True, slots=True)
class WhoTells:
    """Who says it, or makes it. `may`: the reader does so themselves; else `ask` names whom to ask."""

    may: bool
    ask: tuple[str, ...]


def who_tells(actor: Staff, *, at: datetime, what: Action = Action.SEE_TRAIL) -> WhoTells:
    """For a page about one person: a link for whoever reads the trail (or may do `what`), names for everybody else.
    One statement."""
    if access.reach(actor, what, at) is not None:
        return WhoTells(True, ())
    return WhoTells(False, tuple(who_may(what, at=at).values_list("name", flat=True)))


def last_looks(actor: Staff, episodes: Iterable[UUID]) -> dict[UUID, datetime | None]:
    """When the actor last opened each of these people; nothing where they never did. One statement."""
    mine = TrailRow.objects.filter(episode=OuterRef("pk"), actor=actor, verb__in=READ).order_by("-number")
    rows = Episode.objects.filter(pk__in=list(episodes)).annotate(looked=Subquery(mine.values("at")[:1]))
    with beyond("when the reader themselves last looked: the instant of their own rows alone"):
        return dict(rows.values_list("pk", "looked"))


def took_today(actor: Staff, episode_id: UUID, *, at: datetime) -> bool:
    """Whether the actor has taken this person onto a tablet today, by the clocks of their own site. One statement."""
    zone = actor.site.time_zone
    since = clock.day_starts(clock.local_day(at, zone), zone)
    rows = TrailRow.objects.filter(episode=episode_id, actor=actor, verb="person.taken", at__gte=since)
    with beyond("whether the reader's own row of today is there"):
        return rows.exists()


def opened_today(actor: Staff, episodes: Iterable[UUID], page: str, *, at: datetime) -> set[UUID]:
    """Which of these people the actor has opened on this page today, by the clocks of their own site. One statement."""
    zone = actor.site.time_zone
    since = clock.day_starts(clock.local_day(at, zone), zone)
    rows = TrailRow.objects.filter(episode__in=list(episodes), actor=actor, verb="person.opened", at__gte=since)
    with beyond("whether the reader's own rows of today are there"):
        found = rows.filter(detail_text__contains=f'"page":"{page}"').values_list("episode", flat=True)
        return {episode for episode in found if episode}


def _by_day(rows: Iterable[TrailRow], zone: ZoneInfo) -> list[Look]:
    found: dict[tuple[date, UUID], Look] = {}
    rows = list(rows)
    roles, reasons = _roles({row.actor_id for row in rows if row.actor_id}), _reasons(rows)
    for row in rows:
        actor = row.actor
        if actor is None:
            continue
        day = row.at.astimezone(zone).date()
        look = found.get((day, actor.pk))
        if look is None:
            held = tuple(role for role, start, end in roles.get(actor.pk, ()) if _on(day, start, end))
            look = found[day, actor.pk] = Look(day, actor.name, actor.reference, held, row.at, row.at)
        _add(look, row, reasons)
    return sorted(found.values(), key=lambda look: (look.day, look.last), reverse=True)


def _add(look: Look, row: TrailRow, reasons: dict[str, str]) -> None:
    look.times, look.last = look.times + 1, row.at
    look.what.add(SHOWN.get(row.verb, WROTE))
    if page := row.detail.get("page") or row.detail.get("what"):
        look.pages.add(str(page))
    if relation := row.detail.get("as"):
        look.why.add(_(str(relation)))
    if row.verb == "emergency.opened" and (reason := reasons.get(row.subject_id)):
        look.why.add(_("emergency access: “{reason}”").format(reason=reason))


def _reasons(rows: Iterable[TrailRow]) -> dict[str, str]:
    """The reasons of the emergency accesses among these rows."""
    keys = [row.subject_id for row in rows if row.verb == "emergency.opened"]
    return {str(key): why for key, why in EmergencyAccess.objects.filter(pk__in=keys).values_list("pk", "reason")}


def _roles(staff: set[UUID]) -> dict[UUID, list[tuple[str, date | None, date | None]]]:
    found: dict[UUID, list[tuple[str, date | None, date | None]]] = {}
    for term in RoleTerm.objects.filter(staff__in=staff, period__isempty=False).order_by("role"):
        held = (str(Role(term.role).label), term.period.lower, term.period.upper)
        found.setdefault(term.staff_id, []).append(held)
    return found


def _on(day: date, start: date | None, end: date | None) -> bool:
    return (start is None or start <= day) and (end is None or day < end)
