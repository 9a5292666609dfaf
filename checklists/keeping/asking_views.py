"""Pages on which a correction is asked for and answered, and an erasure asked for and decided."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.debug import sensitive_post_parameters

from checklists.keeping import asking, erasing, forms, selectors
from checklists.keeping.about import About, about, note_opened, recorded_since, request_in
from checklists.keeping.views import LAW
from clinic import access, clock
from clinic.access import Action
from clinic.errors import Refusal
from clinic.web.acts import Act, answer
from clinic.web.forms import refused, signed_in

DUE = gettext_lazy("By when it must be answered is the clinic’s own setting; the law of the place comes first.")


def _back(request: HttpRequest, found: About) -> str:
    """Where it came from: the person's page for whoever may see it, else how the record is kept."""
    sees = access.reach(signed_in(request), Action.SEE_PERSON, clock.now()) is not None
    if sees:
        return reverse("person", args=[found.episode_id])
    return reverse("keeping_person", args=[found.person_id])


def ask_correction(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    """Write down that somebody says that something in the record is wrong."""
    actor = signed_in(request)
    found = about(actor, Action.ASK_CORRECTION, episode_id, request.GET.get("entry", ""), at=clock.now())
    if request.method == "GET":
        note_opened(actor=actor, episode_id=episode_id, page="correction")
    act = Act(
        title=_("Somebody says that this is wrong"),
        submit=_("Write it down"),
        back=_back(request, found),
        over=found.whose,
        caution=DUE,
        template="keeping/ask.html",
        extra={"entry": found.entry},
        lead=_("It stays beside the entry, and a clinic lead answers. By itself it changes nothing of the record."),
        done=_("Written down. The clinic leads are told."),
    )
    target = found.entry.id if found.entry else None
    do = partial(asking.ask_correction, actor=actor, episode_id=episode_id, target=target)
    return answer(request, act, forms.AskForm(request.POST or None), do)


def answer_correction(request: HttpRequest, episode_id: UUID, correction_id: UUID) -> HttpResponse:
    """Agree, with what put it right, or decline, with the reason."""
    actor, at = signed_in(request), clock.now()
    access.permit(actor, Action.ANSWER_CORRECTION, at)
    asked = request_in(episode_id, correction_id)
    found = about(actor, Action.ANSWER_CORRECTION, episode_id, asked.target, at=at)
    if request.method == "GET":
        note_opened(actor=actor, episode_id=episode_id, page="correction")
    act = Act(
        title=_("Answer a correction"),
        submit=_("Answer"),
        back=_back(request, found),
        over=found.whose,
        caution=DUE,
        template="keeping/ask.html",
        extra={"entry": found.entry, "asked": asked},
        done=_("Answered."),
    )
    may_strike = found.entry is not None and not found.entry.struck
    form = forms.AnswerForm(request.POST or None, since=recorded_since(asked), may_strike=may_strike)
    do = partial(asking.answer_correction, actor=actor, episode_id=episode_id, request_id=correction_id)
    return answer(request, act, form, do)


def ask_erasure(request: HttpRequest, person_id: UUID) -> HttpResponse:
    """Ask for an erasure, with the legal ground."""
    actor = signed_in(request)
    found = selectors.person_for(actor, Action.ASK_ERASURE, person_id, at=clock.now())
    act = Act(
        title=_("Ask for an erasure"),
        submit=_("Ask for it"),
        back=reverse("keeping_person", args=[person_id]),
        over=f"{found.full_name} · {found.number}",
        caution=LAW,
        template="keeping/erase.html",
        done=_("Asked for. A clinic lead decides; nothing has gone yet."),
        extra={"person": found},
    )
    do = partial(erasing.ask_erasure, actor=actor, person_id=person_id)
    return answer(request, act, forms.ErasureForm(request.POST or None), do)


@sensitive_post_parameters()
def confirm_erasure(request: HttpRequest, erasure_id: UUID) -> HttpResponse:
    """Confirm an erasure, showing again who one is."""
    actor, status = signed_in(request), 200
    row = selectors.one_erasure(actor, erasure_id, at=clock.now())
    form = forms.ConfirmForm(request, actor)
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                erasing.confirm_erasure(actor=actor, erasure_id=erasure_id, proof=form.proof())
            except Refusal as refusal:
                status = refused(form, refusal)
            else:
                messages.success(request, _("Erased. What is left says when, why and by whom."))
                return HttpResponseRedirect(reverse("keeping_person", args=[row.person_id]))
    return render(request, "keeping/confirm.html", {"row": row, "form": form, "law": LAW}, status=status)


def turn_down_erasure(request: HttpRequest, erasure_id: UUID) -> HttpResponse:
    """Decide that nothing is erased."""
    actor = signed_in(request)
    row = selectors.one_erasure(actor, erasure_id, at=clock.now())
    act = Act(
        title=_("Turn the erasure down"),
        submit=_("Nothing is erased"),
        back=reverse("keeping_person", args=[row.person_id]),
        over=f"{row.person.full_name} · {row.person.number}",
        lead=_("Asked for by {name}: {ground}. {reason}").format(
            name=row.asked_by.name, ground=row.ground, reason=row.reason
        ),
        done=_("Turned down: nothing was erased."),
    )
    do = partial(erasing.turn_down_erasure, actor=actor, erasure_id=erasure_id)
    return answer(request, act, forms.WhyForm(request.POST or None), do)
