"""Small pages about the person: their details, their weight."""

from __future__ import annotations

from functools import partial
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _

from caseload.episode.selectors import plan
from caseload.person.forms import PersonForm, WeightForm, person_details
from caseload.person.selectors import person_file
from caseload.person.services import add_weight, edit_person, note_file_opened
from clinic import clock
from clinic.web.acts import Act, answer
from clinic.web.forms import signed_in


def edit(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Who they are, how they wish to be called, whom to reach."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    file = person_file(actor, head.person_id, at=at)
    if request.method == "GET":
        note_file_opened(actor=actor, person_id=head.person_id)
    form = PersonForm(request.POST or None, initial={**file.details.fields(), "version": file.version})
    back = reverse("plan", args=[episode_id])
    act = Act(title=_("Person and contact"), submit=_("Save"), back=back, over=head.whose, layout="two")

    def do(*, version: int, **said: Any) -> None:
        edit_person(actor=actor, person_id=head.person_id, version=version, details=person_details(said))

    return answer(request, act, form, do, fresh=lambda: person_file(actor, head.person_id, at=at).version)


def weight(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Note a body weight."""
    actor, at = signed_in(request), clock.now()
    head = plan(actor, episode_id, at=at)
    form = WeightForm(request.POST or None, initial={"measured_on": clock.local_day(at, head.zone)})
    act = Act(
        title=_("Weight"),
        submit=_("Note the weight"),
        back=reverse("plan", args=[episode_id]),
        over=head.whose,
        lead=_("In kilograms, with the prosthesis on. The share of load in the gym is worked out from it."),
    )
    return answer(request, act, form, partial(add_weight, actor=actor, person_id=head.person_id))
