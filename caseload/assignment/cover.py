"""Standing in for a colleague: one person or all of theirs, on given days. Access comes and goes with the days."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date, datetime, timedelta
from functools import reduce
from operator import or_
from uuid import UUID

from django.db import transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from caseload.assignment.models import Assignment, Cover, ahead
from caseload.assignment.steps import carrier, cut_cover
from caseload.episode.models import Episode
from caseload.load.away import leaves
from caseload.words import span_words
from caseload.writes import fit, refused_as, unless_stale
from clinic import access, clock
from clinic.access import Action
from clinic.audit import trail
from clinic.errors import Conflict, Invalid
from clinic.outbox.post import publish
from clinic.staff.models import Staff


@transaction.atomic(durable=True)
def arrange_cover(
    *,
    actor: Staff,
    staff_id: UUID,
    first_day: date,
    last_day: date,
    reason: str = "",
    episode_id: UUID | None = None,
    away_id: UUID | None = None,
    episode_ids: Collection[UUID] | None = None,
    although_away: bool = False,
) -> list[Cover]:
    """Let a colleague stand in, for one episode or for all that a therapist who is away carries, or those of them that
    are named (`episode_ids`), both days included.

    All or nothing: where some of them are covered on one of the days already, none is written, and the Conflict names
    all of them. Days are those of each person's site; what of today is past stays with whoever stood in until then
    (`_period`). Who is away themselves on one of the days is refused, unless `although_away` says that it is meant.
    """
    at = clock.now()
    access.permit(actor, Action.ARRANGE_COVER, at)
    if last_day < first_day:
        raise Invalid(_("The last day of the cover lies before the first."))
    rows = Episode.objects.select_for_update(no_key=True, of=("self",)).select_related("site", "person")
    if episode_id is not None:
        episodes = [access.get(actor, Action.ARRANGE_COVER, rows, at=at, pk=episode_id)]
    elif away_id is not None:
        carried = Assignment.objects.filter(staff_id=away_id, period__overlap=_days(first_day, last_day, "UTC"))
        mine = access.scoped(actor, Action.ARRANGE_COVER, rows, at=at)
        theirs = mine.filter(closed_at__isnull=True, pk__in=carried.values("episode_id")).order_by("pk")
        episodes = _of_these(list(theirs), episode_ids)
    else:
        raise Invalid(_("Give either one person, or the colleague who is away."))
    _sensible(episodes, staff_id, away_id)
    if not although_away:
        _there(staff_id, first_day, last_day, at)
    wanted = [(episode, _period(episode, first_day, last_day, at)) for episode in episodes]
    staff = {since: carrier(staff_id, since) for since in {max(at, period.lower) for _episode, period in wanted}}
    if standing := _standing(wanted):
        raise _covered_already(standing, at)
    return [
        _cover(episode, staff[max(at, period.lower)], period, actor=actor, at=at, reason=reason)
        for episode, period in wanted
    ]


@transaction.atomic(durable=True)
def end_cover(*, actor: Staff, cover_id: UUID, version: int) -> Cover:
    """End a cover now, or strike one that has not begun. One that is over stays as it is."""
    at = clock.now()
    rows = Cover.objects.select_for_update(no_key=True, of=("self",)).select_related("episode__site", "staff")
    cover = access.get(actor, Action.ARRANGE_COVER, rows, at=at, pk=cover_id)
    if cover.period.isempty or (cover.period.upper is not None and cover.period.upper <= at):
        return cover
    unless_stale(cover, version, "cover", zone=cover.episode.site.time_zone)
    cut_cover(cover, actor=actor, at=at, end=at)
    return cover


@transaction.atomic(durable=True)
def end_cover_of(*, actor: Staff, away_id: UUID) -> list[Cover]:
    """End every cover, in force or to come, of everybody whom a therapist carries: they are back."""
    at = clock.now()
    access.permit(actor, Action.ARRANGE_COVER, at)
    carried = Assignment.objects.filter(staff_id=away_id, period__contains=at)
    rows = Cover.objects.filter(ahead(at), episode__in=carried.values("episode_id")).order_by("pk")
    locked = rows.select_for_update(no_key=True, of=("self",)).select_related("staff")
    covers = list(access.scoped(actor, Action.ARRANGE_COVER, locked, at=at))
    for cover in covers:
        cut_cover(cover, actor=actor, at=at, end=at)
    return covers


def _days(first: date, last: date, zone: str) -> DateTimeTZRange:
    """From the beginning of the first day to the end of the last, where the clocks of `zone` stand."""
    return DateTimeTZRange(clock.day_starts(first, zone), clock.day_starts(last + timedelta(days=1), zone))


def _period(episode: Episode, first_day: date, last_day: date, at: datetime) -> DateTimeTZRange:
    """The days of a cover as a period, where the clocks of the person's site stand: the one place where they become
    one.

    A cover that begins today while another of this person ends within today follows on that one: from its end, or from
    now where that is later. Nobody is left without, no two overlap, and what is past stays with whoever stood in.
    """
    zone = episode.site.time_zone
    days = _days(first_day, last_day, zone)
    if first_day != clock.local_day(at, zone):
        return days
    within = _days(first_day, first_day, zone)
    rows = Cover.objects.filter(
        episode=episode, period__isempty=False, period__endswith__gt=within.lower, period__endswith__lt=within.upper
    )
    ends = [period.upper for period in rows.values_list("period", flat=True)]
    return DateTimeTZRange(max(at, *ends), days.upper) if ends else days


def _of_these(carried: list[Episode], named: Collection[UUID] | None) -> list[Episode]:
    """Those of them that are named. Somebody among the named who is carried no longer: Conflict."""
    if named is None:
        return carried
    these = [episode for episode in carried if episode.pk in named]
    if len(these) < len({*named}):
        raise Conflict(_("Somebody of them was moved meanwhile. Look again, then decide."))
    return these


def _sensible(episodes: Sequence[Episode], staff_id: UUID, away_id: UUID | None) -> None:
    """Nobody covers for themselves; there must be somebody to cover; a closed episode needs no cover."""
    if staff_id == away_id:
        raise Invalid(_("Nobody can stand in for themselves. Choose a colleague."))
    if not episodes:
        raise Invalid(_("They carry nobody on those days: there is nothing to cover."))
    closed = next((episode for episode in episodes if episode.closed_at is not None), None)
    if closed is not None:
        raise Conflict(_("The episode of {person} is closed.").format(person=closed.person.full_name))


def _there(staff_id: UUID, first_day: date, last_day: date, at: datetime) -> None:
    """Refuse somebody for whom colleagues stand in on these days: their people, and these, would have nobody. A leave
    that is over, if only since this morning, is none."""
    staff = Staff.objects.filter(pk=staff_id).select_related("site").first()
    if staff is None:
        return  # said by whoever gives them an episode
    period = _days(first_day, last_day, staff.site.time_zone)
    carried = Assignment.objects.filter(staff=staff, period__overlap=period, episode__closed_at__isnull=True)
    owners = dict.fromkeys(carried.values_list("episode_id", flat=True), staff.pk)
    rows = Cover.objects.filter(ahead(at), episode__in=owners, period__overlap=period).select_related("episode__site")
    leave = next(iter(leaves(rows.order_by("period"), owners).get(staff.pk, ())), None)
    if leave is not None:
        raise Conflict(
            _("{staff} is {away}. Choose a colleague who is there, or tick that you mean it.").format(
                staff=staff.name, away=leave.words
            ),
            code="stand_in_away",
        )


def _cover(
    episode: Episode, staff: Staff, period: DateTimeTZRange, *, actor: Staff, at: datetime, reason: str
) -> Cover:
    """Write one cover and tell whoever stands in. Overlap is the database's to refuse."""
    carried = Assignment.objects.filter(ahead(at), episode=episode, staff=staff, period__overlap=period)
    if carried.exists():
        raise Invalid(
            _("{staff} carries {person} on those days: no cover is needed.").format(
                staff=staff.name, person=episode.person.full_name
            )
        )
    cover = Cover(episode=episode, staff=staff, period=period, made_by=actor, reason=reason.strip())
    fit(cover)
    with refused_as(lambda: _covered_already(_standing([(episode, period)]), at), "cover_one_at_a_time"):
        cover.save(force_insert=True)
    when = {"from": period.lower.isoformat(), "until": period.upper.isoformat()}
    detail = {"version": 1, "staff": staff.reference, **when}
    trail.record(actor, "cover.arranged", "cover", cover.pk, at=at, episode=episode.pk, detail=detail)
    news = {"episode": str(episode.pk), "reference": episode.reference, "staff": str(staff.pk), **when}
    news["given"] = str(cover.pk)
    publish("cover.arranged", news, at=at, dedupe_key=f"cover.arranged:{cover.pk}")
    return cover


def _standing(wanted: Iterable[tuple[Episode, DateTimeTZRange]]) -> list[Cover]:
    """The covers that stand in the way of these, by name."""
    taken = reduce(or_, (Q(episode=episode, period__overlap=period) for episode, period in wanted))
    rows = Cover.objects.filter(taken).select_related("staff", "episode__person", "episode__site")
    return list(rows.order_by("episode__person__family_name", "episode", "period"))


def _covered_already(standing: Sequence[Cover], at: datetime) -> Conflict:
    """The refusal for an overlap: of all of them who covers whom, and on which days, and what to do."""
    if not standing:
        return Conflict(_("Somebody else arranged a cover a moment ago. Look again, then decide."))
    said = [
        _("{staff} covers {person} already, {days}.").format(
            staff=row.staff.name,
            person=row.episode.person.full_name,
            days=span_words(row.period.lower, row.period.upper, row.episode.site.time_zone),
        )
        for row in standing
    ]
    people = len({row.episode_id for row in standing})
    if all(row.period.upper is not None and row.period.upper <= at for row in standing):
        todo = _("Nothing was arranged for anybody: what is past stays as it was. Let the cover begin today or later.")
    else:
        todo = ngettext(
            "Nothing was arranged for anybody: end that cover first (“End” beside the person on “Cover for leave”, or "
            "on their plan), leave them out, or choose other days.",
            "Nothing was arranged for anybody. {n} people are covered already: end those covers first (“End” beside "
            "each on “Cover for leave”, or on their plan), leave them out, or choose other days.",
            people,
        ).format(n=people)
    if len(said) == 1:
        return Conflict(f"{said[0]} {todo}", code="cover_overlaps")
    return Conflict(todo, code="cover_overlaps", reasons=said)
