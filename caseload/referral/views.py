"""Taking a referral of somebody new or known, putting one right, and ending one."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from caseload.episode.selectors import sites
from caseload.person.forms import person_details
from caseload.person.selectors import known_person
from caseload.referral.forms import ChangeForm, EndForm, as_it_stands, referral_details, taking
from caseload.referral.selectors import known_here, to_put_right, waiting_referral
from caseload.referral.services import change_referral, end_referral, take_referral
from caseload.words import days_words
from clinic import access, clock
from clinic.access import Action
from clinic.web.acts import Act, answer, offer
from clinic.web.forms import signed_in
from clinic.web.limits import limited

if TYPE_CHECKING:
    from caseload.referral.models import Referral
    from clinic.staff.models import Staff


def take(request: HttpRequest) -> HttpResponse:
    """Put somebody on the waiting list; `?person=` names one who is known here, `?new=` says that nobody was found."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.TAKE_REFERRAL, at)
    who = known_person(actor, request.GET["person"], at=at) if request.GET.get("person") else None
    start = {"received_on": clock.local_day(at, actor.site.time_zone), "site_id": str(actor.site_id)}
    looked = who is None and "new" in request.GET
    form = taking(request.POST or None, start, known=who is not None, looked=looked)
    offer(form, "site_id", sites())
    act = Act(
        title=_("Take a referral"),
        submit=_("Put on the waiting list"),
        back=reverse("caseload"),
        over=f"{who.name} · {who.details.number}" if who else "",
        template="caseload/referral.html",
        extra={"known": who, "looked": looked},
    )
    return answer(request, act, form, partial(_take, actor, who.person_id if who else None), then=_taken)


def _take(actor: Staff, person_id: UUID | None, /, **said: Any) -> Referral:
    person = person_details(said) if person_id is None else None
    details = referral_details(said)
    return take_referral(actor=actor, site_id=said["site_id"], details=details, person_id=person_id, person=person)


def _taken(referral: Referral, act: Act) -> Act:
    who = referral.person
    return replace(act, done=_("{name} waits, {number}.").format(name=who.full_name, number=who.number))


@limited("search")
def known(request: HttpRequest) -> HttpResponse:
    """Look somebody up who was here before, so that nobody gets a second number. Whom, is posted."""
    text = request.POST.get("q", "")[:80]
    found = known_here(signed_in(request), text, at=clock.now())
    return render(request, "caseload/known.html", {"q": text, "people": found})


def change(request: HttpRequest, referral_id: UUID) -> HttpResponse:
    """Put right what a referral says whose person still waits."""
    actor, at = signed_in(request), clock.now()
    row, said = to_put_right(actor, referral_id, at=at)
    form = ChangeForm(request.POST or None, initial=as_it_stands(row, said))
    offer(form, "site_id", sites())
    act = Act(
        title=_("Change the referral"),
        submit=_("Save"),
        back=reverse("assign", args=[referral_id]),
        over=f"{row.name} · {row.number}",
        done=_("The referral of {name} is changed.").format(name=row.name),
        layout="two",
    )
    do = partial(_change, actor, referral_id)
    return answer(request, act, form, do, fresh=lambda: waiting_referral(actor, referral_id, at=at).version)


def _change(actor: Staff, referral_id: UUID, /, **said: Any) -> Referral:
    given = {"site_id": said["site_id"], "version": said["version"]}
    return change_referral(actor=actor, referral_id=referral_id, details=referral_details(said), **given)


def end(request: HttpRequest, referral_id: UUID) -> HttpResponse:
    """Take somebody off the waiting list who will not be seen here."""
    actor, at = signed_in(request), clock.now()
    row = waiting_referral(actor, referral_id, at=at)
    over = _("{name} · {number} · waits {days}").format(
        name=row.name, number=row.number, days=days_words(row.wait.days)
    )
    act = Act(title=_("End the referral"), submit=_("Take off the list"), back=reverse("caseload"), over=over)
    form = EndForm(request.POST or None, initial={"version": row.version})
    do = partial(end_referral, actor=actor, referral_id=referral_id)
    return answer(request, act, form, do, fresh=lambda: waiting_referral(actor, referral_id, at=at).version)
