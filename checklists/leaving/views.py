"""Ending an account, and moving somebody to another site or other roles from a day on."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from caseload.assignment.selectors import colleagues
from checklists.leaving.forms import EndForm
from checklists.leaving.selectors import leaving
from checklists.leaving.services import end_staff
from clinic import clock
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in


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
