"""What a clinic lead does with staff, one form a deed."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic import access, clock
from clinic.access import Action
from clinic.errors import Refusal
from clinic.staff import forms, identity, selectors, services
from clinic.web.acts import Act, answer
from clinic.web.forms import refused, signed_in

if TYPE_CHECKING:
    from clinic.staff.models import RoleTerm

CAUTION = gettext_lazy(
    "Whether somebody may work with a knee feature is a judgement of the clinic: follow local policy."
)

ACCOUNT_STAYS = gettext_lazy(
    "The role ends by itself with its last day. The account does not: it stays open, and they stay with whom they "
    "carry, until somebody closes it."
)


def _member(request: HttpRequest, staff_id: UUID) -> tuple[selectors.StaffPage, str]:
    """The member of staff whom the form is about, and the way back to their page."""
    page = selectors.staff_page(signed_in(request), staff_id, at=clock.now())
    access.permit(signed_in(request), Action.MANAGE_STAFF, clock.now())
    return page, reverse("staff_member", args=[staff_id])


def _today() -> dict[str, str]:
    return {"starts_on": clock.now().date().isoformat()}


def add_staff(request: HttpRequest) -> HttpResponse:
    """Take somebody on, and show the password to hand over, this once."""
    access.permit(signed_in(request), Action.MANAGE_STAFF, clock.now())
    form, status = forms.AddStaff(request.POST or None), 200
    if request.method == "POST" and form.is_valid():
        try:
            return _hand_over(request, services.add_staff(actor=signed_in(request), **form.cleaned_data))
        except Refusal as refusal:
            status = refused(form, refusal)
    act = Act(title=_("Add somebody"), submit=_("Add"), back=reverse("staff"), over=_("Staff"))
    return render(request, "act.html", {"act": act, "form": form}, status=status)


def give_password(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """A new password for somebody who has lost theirs, shown this once."""
    page, back = _member(request, staff_id)
    form, status = forms.Nothing(request.POST if request.method == "POST" else None), 200
    if request.method == "POST" and form.is_valid():
        try:
            return _hand_over(request, services.give_password(actor=signed_in(request), staff_id=staff_id))
        except Refusal as refusal:
            status = refused(form, refusal)
    lead = _(
        "They are signed out everywhere. The password is shown to you once; they must change it when they sign in."
    )
    act = Act(
        title=_("A new password for {row}").format(row=page.row.name),
        submit=_("Make one"),
        back=back,
        over=_("Staff"),
        lead=lead,
    )
    return render(request, "act.html", {"act": act, "form": form}, status=status)


def _hand_over(request: HttpRequest, taken: services.Taken) -> HttpResponse:
    checkers = identity.who_can_check(taken.staff, at=clock.now())
    return render(request, "staff/hand_over.html", {"taken": taken, "checkers": checkers})


def edit_staff(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """Change what is known of somebody."""
    page, back = _member(request, staff_id)
    staff = page.staff
    known = {name: getattr(staff, name) for name in ("name", "email", "site_id", "minutes_per_week", "version")}
    form = forms.EditStaff(request.POST or None, initial=known)
    act = Act(
        title=_("Change {staff}").format(staff=staff.name),
        submit=_("Save"),
        back=back,
        over=_("Staff"),
        done=_("Saved."),
    )
    deed = partial(services.edit_staff, actor=signed_in(request), staff_id=staff_id)
    return answer(request, act, form, deed, fresh=lambda: _member(request, staff_id)[0].staff.version)


def add_site(request: HttpRequest) -> HttpResponse:
    """Open a site."""
    access.permit(signed_in(request), Action.MANAGE_STAFF, clock.now())
    act = Act(title=_("Add a site"), submit=_("Add"), back=reverse("staff"), over=_("Staff"))
    form = forms.AddSite(request.POST or None, initial={"time_zone": "Europe/London"})
    return answer(request, act, form, partial(services.add_site, actor=signed_in(request)))


def grant_role(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """Give a role."""
    page, back = _member(request, staff_id)
    act = Act(title=_("A role for {row}").format(row=page.row.name), submit=_("Grant"), back=back, over=_("Staff"))
    form = forms.GrantRole(request.POST or None, initial=_today())
    return answer(request, act, form, partial(services.grant_role, actor=signed_in(request), staff_id=staff_id))


def end_role(request: HttpRequest, staff_id: UUID, term_id: UUID) -> HttpResponse:
    """End a role."""
    page, back = _member(request, staff_id)
    act = Act(
        title=_("End a role of {row}").format(row=page.row.name),
        submit=_("End it"),
        back=back,
        over=_("Staff"),
        lead=ACCOUNT_STAYS,
    )
    form = forms.LastDay(request.POST or None, initial={"last_day": clock.now().date().isoformat()})
    end = partial(services.end_role, actor=signed_in(request), term_id=term_id)
    return answer(request, act, form, end, then=_role_ended)


def _role_ended(term: RoleTerm, act: Act) -> Act:
    said = _("{title}: done.").format(title=act.title)
    return replace(act, done=f"{said} {ACCOUNT_STAYS}")


def add_registration(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """Write a registration down."""
    page, back = _member(request, staff_id)
    act = Act(title=_("A registration of {row}").format(row=page.row.name), submit=_("Add"), back=back, over=_("Staff"))
    form = forms.AddRegistration(request.POST or None, initial=_today())
    add = services.add_registration
    return answer(request, act, form, partial(add, actor=signed_in(request), staff_id=staff_id))


def authorise(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    """Authorise somebody for a knee feature."""
    page, back = _member(request, staff_id)
    act = Act(
        title=_("Authorise {row}").format(row=page.row.name),
        submit=_("Authorise"),
        back=back,
        over=_("Staff"),
        caution=CAUTION,
    )
    start = {**_today(), "feature": request.GET.get("feature", "")}
    form = forms.Authorise(request.POST or None, initial=start)
    return answer(request, act, form, partial(services.authorise, actor=signed_in(request), staff_id=staff_id))


def withdraw_authorisation(request: HttpRequest, staff_id: UUID, authorisation_id: UUID) -> HttpResponse:
    """Take an authorisation back."""
    page, back = _member(request, staff_id)
    act = Act(
        title=_("Withdraw an authorisation of {row}").format(row=page.row.name),
        submit=_("Withdraw"),
        back=back,
        caution=CAUTION,
    )
    form, withdraw = forms.Reason(request.POST or None), services.withdraw_authorisation
    return answer(request, act, form, partial(withdraw, actor=signed_in(request), authorisation_id=authorisation_id))
