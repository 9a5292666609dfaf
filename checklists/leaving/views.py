"""Ending an account, and moving somebody to another site or other roles from a day on."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

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
        title=f"Move {staff.name}",
        submit="Move them" if found is not None and found.digest else "Look at it, then move",
        back=reverse("staff_member", args=[staff_id]),
        over="Staff",
        lead="It takes effect on that day, by itself. Until then everything stays as it is.",
        done=f"{staff.name} is moved from that day on.",
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
        title=f"Close the account of {found.staff.name}",
        submit="Close the account",
        back=reverse("staff_member", args=[staff_id]),
        over="Staff",
        lead="They are signed out everywhere at once. What they recorded stays theirs, and stays as it is.",
        done=f"The account of {found.staff.name} is closed.",
        layout="one",
        template="leaving/end.html",
        extra={"leaving": found},
    )
    form = EndForm(request.POST or None, people=found.people, colleagues=others)
    return answer(request, act, form, partial(end_staff, actor=actor, staff_id=staff_id))
