"""What a clinic lead or a records officer does about others' sign-in: a lost factor taken away, an identity checked."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic import access, clock
from clinic.access import Action
from clinic.staff import identity, selectors
from clinic.staff.factors.forms import Checked, Lost
from clinic.staff.factors.lost import remove_lost_factor
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in

LOST = gettext_lazy(
    "Everything of theirs that is signed in ends. They add a new factor themselves, with their "
    "password; a lead cannot. If this was their last one, somebody other than you checks who "
    "they are before they sign again."
)
CHECK = gettext_lazy(
    "Without it nobody signs. Whoever gave them a password or took a factor away is not the one to check it."
)


def remove_lost(request: HttpRequest, staff_id: UUID, factor_id: UUID) -> HttpResponse:
    """Take away a factor that somebody has lost."""
    access.permit(signed_in(request), Action.MANAGE_STAFF, clock.now())
    page = selectors.staff_page(signed_in(request), staff_id, at=clock.now())
    act = Act(
        title=_("Remove a factor that {row} has lost").format(row=page.row.name),
        submit=_("Remove it"),
        back=reverse("staff_member", args=[staff_id]),
        over=_("Staff"),
        lead=LOST,
        done=_("Removed. They know of it by e-mail."),
    )
    do = partial(remove_lost_factor, actor=signed_in(request), staff_id=staff_id, factor_id=factor_id)
    return answer(request, act, Lost(request.POST or None), do)


def identities(request: HttpRequest) -> HttpResponse:
    """Whose identity waits for a check."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.CHECK_IDENTITY, at)
    return render(request, "factors/identities.html", {"rows": identity.waiting(actor, at=at)})


def check_identity(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """Say that somebody is who they say they are."""
    actor, at = signed_in(request), clock.now()
    row = identity.to_check(actor, staff_id, at=at)
    act = Act(
        title=_("The identity of {row}").format(row=row.name),
        submit=_("It is they"),
        back=reverse("identities"),
        over=f"{row.reference} · {row.site}",
        lead=CHECK,
        caution=row.why_not,
        done=_("Kept: {row} may sign what their papers allow.").format(row=row.name),
    )
    do = partial(identity.check_identity, actor=actor, staff_id=staff_id)
    return answer(request, act, Checked(request.POST or None), do)
