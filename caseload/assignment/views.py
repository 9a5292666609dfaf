"""The lead's pages about one person's hands, and the cover of a leave."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.assignment.cover import arrange_cover, end_cover
from caseload.assignment.forms import CoverForm, EndForm, LeaveForm, ReassignForm
from caseload.assignment.selectors import beside_cover, colleagues, cover_of, hands
from caseload.assignment.services import reassign
from caseload.episode.selectors import plan
from caseload.load.candidates import candidates_for, given_to, widest
from clinic import access, clock
from clinic.access import Action
from clinic.web.acts import Act, answer, offer
from clinic.web.forms import signed_in

COVER = gettext_lazy(
    "Whoever stands in sees the person from the beginning of the first day to the end of the last, and not longer."
)


def reassign_page(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Move a person to another therapist: loads before and after, and who may work with their knee."""
    actor, at = signed_in(request), clock.now()
    head, turn = plan(actor, episode_id, at=at), hands(actor, episode_id, at=at).carrier
    every = candidates_for(actor, features=head.features, side=head.side, site_id=head.site_id, at=at)
    who = [one for one in every if turn is None or one.load.staff_id != turn.staff_id]
    seen = {"standing_id": turn.row_id, "version": turn.version} if turn else {}
    form = ReassignForm(request.POST or None, initial=seen)
    offer(form, "staff_id", [(one.load.staff_id, one.words) for one in who])
    act = Act(
        title=_("Reassign"),
        submit=_("Reassign"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=_("Now with {name}.").format(name=turn.staff) if turn else _("Now with nobody."),
        done=given_to(head.name, who, request.POST.get("staff_id")),
        template="caseload/candidates.html",
        extra={"candidates": who, "widest": widest(who), "pick": "staff_id", "features": head.features},
    )
    return answer(request, act, form, partial(reassign, actor=actor, episode_id=episode_id))


def cover_page(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Let a colleague stand in for one person."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    access.permit(actor, Action.ARRANGE_COVER, at)
    act = Act(
        title=_("Arrange cover"),
        submit=_("Arrange"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=COVER,
        template="caseload/cover.html",
        extra=beside_cover(actor, at=at, episode_id=episode_id),
    )
    form = CoverForm(request.POST or None)
    offer(form, "staff_id", colleagues(at=at))
    return answer(request, act, form, partial(arrange_cover, actor=actor, episode_id=episode_id))


def end_cover_page(request: HttpRequest, episode_id: UUID, cover_id: UUID) -> HttpResponse:
    """End a cover."""
    actor, at = signed_in(request), clock.now()
    head, cover = plan(actor, episode_id, at=at), cover_of(actor, episode_id, cover_id, at=at)
    back = reverse("plan", args=[episode_id])
    lead = _("{staff} stands in. From now on they no longer see this person.").format(staff=cover.staff)
    act = Act(title=_("End the cover"), submit=_("End it now"), back=back, over=head.whose, lead=lead)
    form = EndForm(request.POST or None, initial={"version": cover.version})
    fresh = lambda: cover_of(actor, episode_id, cover_id, at=at).version  # noqa: E731 - passed on as it is
    return answer(request, act, form, partial(end_cover, actor=actor, cover_id=cover_id), fresh=fresh)


def leave_page(request: HttpRequest) -> HttpResponse:
    """Let a colleague stand in for everybody whom somebody carries who is away."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.ARRANGE_COVER, at)
    act = Act(
        title=_("Cover for leave"),
        submit=_("Arrange for all of them"),
        back=reverse("caseload"),
        lead=COVER,
        template="caseload/cover.html",
        extra=beside_cover(actor, at=at),
    )
    form = LeaveForm(request.POST or None, initial={"away_id": request.GET.get("away")})
    for name in ("away_id", "staff_id"):
        offer(form, name, colleagues(at=at))
    return answer(request, act, form, partial(arrange_cover, actor=actor))
