"""The accounts, looked through."""

from __future__ import annotations

from functools import partial

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic import access, clock
from clinic.access import Action
from clinic.staff.review import selectors
from clinic.staff.review.services import note_review
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in


class NoteForm(forms.Form):
    """What came of it."""

    note = forms.CharField(
        label=gettext_lazy("What came of it"), max_length=2000, widget=forms.Textarea(attrs={"rows": 3})
    )


def review(request: HttpRequest) -> HttpResponse:
    """Accounts and tablets with something to look at, and the word that somebody has."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.MANAGE_STAFF, at)
    act = Act(
        title=_("Account review"),
        submit=_("They are looked through"),
        back=reverse("account_review"),
        over=_("Staff"),
        done=_("Noted, with your name and the day."),
        layout="one",
        template="staff/review.html",
        caution=_(
            "A look through the accounts from time to time recalls what nobody uses. The numbers of days "
            "are the clinic's defaults, common practice without a source; local policy comes first."
        ),
        extra={
            "review": selectors.account_review(actor, at=at),
            "unused": selectors.UNUSED.days,
            "soon": selectors.ENDS_SOON.days,
            "again": selectors.AGAIN_AFTER.days,
        },
    )
    return answer(request, act, NoteForm(request.POST or None), partial(note_review, actor=actor))
