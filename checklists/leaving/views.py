"""Ending an account, and moving somebody to another site or other roles from a day on."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from caseload.assignment.selectors import colleagues
from checklists.leaving.forms import EndForm, MoveForm
from checklists.leaving.moving import move_staff
from checklists.leaving.reach import losses
from checklists.leaving.selectors import leaving
from checklists.leaving.services import end_staff
from clinic import clock
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in


def move(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """Another site, other roles, from a day on: first what no longer reaches them, then the deed."""
    actor, at = signed_in(request), clock.now()
    staff = leaving(actor, staff_id, at=at).staff
    today = clock.local_day(at, staff.site.time_zone)
    begin = {"on_day": today.isoformat(), "site_id": staff.site_id, "roles": sorted(staff.roles_on(today)), "seen": ""}
    form, found = MoveForm(request.POST or None, initial=begin), None
    if request.method == "POST" and form.is_valid():
        found = losses(
            actor, staff_id, at=at, **{key: form.cleaned_data[key] for key in ("on_day", "site_id", "roles")}
        )
    act = Act(
        title=_("Move {name}").format(name=staff.name),
        submit=_("Move them") if found is not None and found.digest else _("Look at it, then move"),
        back=reverse("staff_member", args=[staff_id]),
        over=_("Staff"),
        lead=_("It takes effect on that day, by itself. Until then everything stays as it is."),
        done=_("{name} is moved from that day on.").format(name=staff.name),
        template="leaving/move.html",
        extra={"losses": found},
    )
    if found is not None and found.digest != form.cleaned_data["seen"]:
        form.data = request.POST.copy()
        form.data["seen"] = found.digest
        return render(request, act.template, {"act": act, "form": form, **act.extra}, status=409)
    return answer(request, act, form, partial(move_staff, actor=actor, staff_id=staff_id))


def end_account(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """What is in their hands, who takes over, and the end of the account."""
    actor, at = signed_in(request), clock.now()
    found = leaving(actor, staff_id, at=at)
    others = [(key, words) for key, words in colleagues(at=at) if key != staff_id]
    act = Act(
        title=_("Close the account of {name}").format(name=found.staff.name),
        submit=_("Close the account"),
        back=reverse("staff_member", args=[staff_id]),
        over=_("Staff"),
        lead=_("They are signed out everywhere at once. What they recorded stays theirs, and stays as it is."),
        done=_("The account of {name} is closed.").format(name=found.staff.name),
        layout="one",
        template="leaving/end.html",
        extra={"leaving": found},
    )
    form = EndForm(request.POST or None, people=found.people, colleagues=others)
    return answer(request, act, form, partial(end_staff, actor=actor, staff_id=staff_id))
