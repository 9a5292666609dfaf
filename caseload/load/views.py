"""The lead's page for the clinic's own weights."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.load.forms import WeightsForm, weights_of
from caseload.load.selectors import load_weights
from caseload.load.services import set_load_weights
from clinic import clock
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in

CAUTION = gettext_lazy(
    "No published weight was found for this work. These are the clinic's own; local policy decides what is fair."
)


def weights_page(request: HttpRequest) -> HttpResponse:
    """Minutes a week that a person costs in each phase."""
    actor = signed_in(request)
    act = Act(
        title=_("Load weights"),
        submit=_("Set the weights"),
        back=reverse("caseload"),
        layout="two",
        lead=_(
            "New for eight weeks; then training while a session lies within four weeks either way; else reviews only."
        ),
        caution=CAUTION,
    )
    form = WeightsForm(request.POST or None, now=load_weights(actor, at=clock.now()))
    return answer(request, act, form, lambda **said: set_load_weights(actor=actor, weights=weights_of(said)))
