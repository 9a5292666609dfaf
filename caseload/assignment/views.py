"""The lead's pages about one person's hands, and the cover of a leave."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.assignment import typed
from caseload.assignment.absences import everybody_away
from caseload.assignment.cover import arrange_cover, end_cover, end_cover_of
from caseload.assignment.forms import AwayForm, CoverForm, EndForm, LeaveForm, Nothing, ReassignForm
from caseload.assignment.selectors import (
    colleague,
    colleagues,
    cover_of,
    covered_words,
    hands,
)
from caseload.assignment.services import reassign
from caseload.assignment.stand_ins import people_of, person_of, stand_ins, to_cover
from caseload.assignment.told import place_after, sessions_after, with_whom
from caseload.episode.selectors import plan
from caseload.load.candidates import candidates_for, given_to, widest
from caseload.visit.selectors import booked_with
from clinic import access, clock
from clinic.access import Action
from clinic.errors import NotFound
from clinic.web.acts import Act, answer, offer
from clinic.web.forms import signed_in
from clinic.web.policy import swaps_markup

if TYPE_CHECKING:
    from caseload.assignment.models import Assignment, Cover
    from caseload.assignment.selectors import Turn
    from caseload.assignment.stand_ins import ToCover
    from caseload.episode.selectors import Plan
    from clinic.staff.models import Staff

COVER = gettext_lazy(
    "Whoever stands in sees the person from the beginning of the first day to the end of the last, and not longer."
)


def reassign_page(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Move a person to another therapist: loads before and after, and who may work with their knee."""
    actor, at = signed_in(request), clock.now()
    head, turn = plan(actor, episode_id, at=at), hands(actor, episode_id, at=at).carrier
    every = candidates_for(actor, knee=head.knee, side=head.side, site_id=head.site_id, at=at)
    who = [one for one in every if turn is None or one.load.staff_id != turn.staff_id]
    seen = {"standing_id": turn.row_id, "version": turn.version} if turn else {}
    form = ReassignForm(request.POST or None, initial=seen)
    booked = booked_with(actor, episode_id, turn.staff_id, at=at) if turn else []
    form.booked(booked)
    offer(form, "staff_id", [(one.load.staff_id, one.words) for one in who])
    act = Act(
        title=_("Move to another therapist"),
        submit=_("Move them now"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=with_whom(turn.staff if turn else "", head.site, booked),
        done=given_to(head.name, who, request.POST.get("staff_id")),
        template="caseload/candidates.html",
        extra={"candidates": who, "widest": widest(who), "pick": "staff_id"},
    )
    then = partial(_moved, actor, head, turn if booked else None)
    return answer(request, act, form, partial(reassign, actor=actor, episode_id=episode_id), then=then)


def _moved(actor: Staff, head: Plan, before: Turn | None, now: Assignment, act: Act) -> Act:
    """That the place stays, and what became of the sessions that were booked with whoever carried the person."""
    said = [act.done, place_after(head.site, now.staff.name, now.staff.site.name)]
    if before is not None:
        said.append(sessions_after(before.staff, booked_with(actor, head.episode_id, before.staff_id, at=clock.now())))
    return replace(act, done=" ".join(str(one) for one in said if one))


def cover_page(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Let a colleague stand in for one person."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    turn = hands(actor, episode_id, at=at).carrier
    people = person_of(actor, episode_id, at=at)
    who = stand_ins(actor, people, turn.staff_id if turn else None, at=at)
    act = Act(
        title=_("Arrange cover"),
        submit=_("Arrange"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=COVER,
        template="caseload/candidates.html",
        extra={"candidates": who, "widest": widest(who), "pick": "staff_id"},
    )
    form = CoverForm(request.POST or None)
    form.ask_of(who)
    do = partial(arrange_cover, actor=actor, episode_id=episode_id)
    return answer(request, act, form, do, then=partial(_covered, head.name))


def end_cover_page(request: HttpRequest, episode_id: UUID, cover_id: UUID) -> HttpResponse:
    """End a cover."""
    actor, at = signed_in(request), clock.now()
    head, cover = plan(actor, episode_id, at=at), cover_of(actor, episode_id, cover_id, at=at)
    act = Act(
        title=_("End the cover"),
        submit=_("End it now"),
        back=typed.back_to(request, episode_id),
        over=head.whose,
        lead=_("{staff} stands in. From now on they no longer see this person.").format(staff=cover.staff),
        done=_("{staff} no longer stands in for {person}.").format(staff=cover.staff, person=head.name),
    )
    form = EndForm(request.POST or None, initial={"version": cover.version})
    fresh = lambda: cover_of(actor, episode_id, cover_id, at=at).version  # noqa: E731 - passed on as it is
    return answer(request, act, form, partial(end_cover, actor=actor, cover_id=cover_id), fresh=fresh)


@swaps_markup
def leave_page(request: HttpRequest) -> HttpResponse:
    """Let a colleague stand in for everybody whom somebody carries who is away: who that is, is asked first."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.ARRANGE_COVER, at)
    every = colleagues(at=at)
    text = request.GET.get("away") or request.POST.get("away_id", "")
    away = next((key for key, _name in every if str(key) == text), None)
    if away is None:
        form = AwayForm(request.GET if text else None)
        offer(form, "away", every)
        return render(request, "caseload/covers.html", {"form": form, "covers": everybody_away(actor, at=at)})
    return _leave_of(request, away, every, at)


def _leave_of(request: HttpRequest, away: UUID, every: list[tuple[UUID, str]], at: datetime) -> HttpResponse:
    """Who stands in for this one, and on which days."""
    actor, name = signed_in(request), colleague(away, at=at)
    people = people_of(actor, away, at=at)
    found = next(iter(everybody_away(actor, at=at, staff_id=away)), None)
    theirs = to_cover(people, found.covers if found else ())
    if "end" in request.POST:
        return _first_ended(request, away, theirs)
    known = {**(found.days_meant(at) if found else {}), **typed.kept(request, away).get("lines", {})}
    form = LeaveForm(request.POST or None, initial={"away_id": away, **known})
    offer(form, "away_id", every)
    form.ask_about(theirs, found.meant if found else None, typed.ticked(request, away, theirs))
    who = stand_ins(actor, form.ticked(people), away, at=at)
    form.ask_of(who)
    act = Act(
        title=_("Cover for {name}").format(name=name),
        submit=_("Arrange for those ticked"),
        back=reverse("cover_leave"),
        over="" if people else _("They carry nobody now."),
        lead=COVER,
        template="caseload/candidates.html",
        extra={"candidates": who, "widest": widest(who), "pick": "staff_id", "whom": "episode_ids"},
    )
    return answer(request, act, form, partial(arrange_cover, actor=actor), then=partial(_covered, name))


def _first_ended(request: HttpRequest, away: UUID, people: list[ToCover]) -> HttpResponse:
    """On to the end of a cover that stands in the way; what is filled in waits for the way back."""
    wanted = request.POST["end"]
    of_whom = next((one.episode_id for one in people for turn in one.covers if str(turn.row_id) == wanted), None)
    if of_whom is None:
        return redirect(f"{reverse('cover_leave')}?away={away}")  # it was ended meanwhile
    typed.keep(request, away, people, of_whom)
    return redirect(f"{reverse('end_cover', args=[of_whom, wanted])}?leave={away}")


def _covered(whom: str, covers: list[Cover], act: Act) -> Act:
    return replace(act, done=covered_words(whom, covers))


def end_leave_page(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """End every cover of one therapist, who is back."""
    actor, at = signed_in(request), clock.now()
    found = next(iter(everybody_away(actor, at=at, staff_id=staff_id)), None)
    if found is None:
        raise NotFound(_("Nobody stands in for them now or later."))
    act = Act(
        title=_("End all cover for {name}").format(name=found.name),
        submit=_("End it now"),
        back=reverse("cover_leave"),
        over="; ".join(line.words for line in found.lines),
        lead=_("From now on whoever stands in no longer sees these people."),
        done=_("Nobody stands in for {name} any more.").format(name=found.name),
    )
    do = partial(end_cover_of, actor=actor, away_id=staff_id)
    form = Nothing(request.POST if request.method == "POST" else None)
    return answer(request, act, form, do)
