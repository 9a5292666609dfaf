"""Alerts: one act a row, every rule that it broke inside; answered with what was done."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING
from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET, require_POST

from checklists.alerts import page, services
from checklists.alerts.news import unread_news
from checklists.alerts.selectors import Cursor, Filters
from checklists.alerts.severity import Severity
from checklists.aside.selectors import held_for, refused_count
from checklists.person.services import note_opened_today
from clinic import access, clock
from clinic.access import Action
from clinic.web.acts import Act, answer
from clinic.web.entrance import next_of, poll
from clinic.web.forms import signed_in

if TYPE_CHECKING:
    from clinic.staff.models import Staff

NUMBER = "telephone number in an alert"


class AnswerForm(forms.Form):
    """What was done."""

    text = forms.CharField(
        label=gettext_lazy("What was done"), max_length=services.LONGEST, widget=forms.Textarea(attrs={"rows": 4})
    )


class AgainForm(AnswerForm):
    """A further answer; or why the one before is taken back."""

    wrong = forms.BooleanField(
        label=gettext_lazy("The answer before is wrong, or was meant for another alert: take it back"),
        help_text=gettext_lazy("Then say above why. It stays in sight, and this alert waits for an answer again."),
        required=False,
    )


def _filters(request: HttpRequest) -> Filters:
    """What to show: by default what waits for an answer. What does not fit is left out."""
    state, before = request.GET.get("state", "waiting"), Cursor.read(request.GET.get("before", ""))
    return Filters(
        state=state if state in page.STATES else "waiting",
        severity=request.GET.get("severity", "") if request.GET.get("severity") in Severity.values else "",
        before=before,
        first=_entry(request.GET.get("first", "")) if before is None else None,
        most=page.PAGE + 1,
    )


def _entry(sent: str) -> UUID | None:
    with suppress(ValueError):
        return UUID(sent)
    return None


@require_GET
def alerts(request: HttpRequest) -> HttpResponse:
    """The acts that wait, or were answered, or are withdrawn."""
    actor, at, filters = signed_in(request), clock.now(), _filters(request)
    acts = page.shown_acts(actor, filters, at=at)
    _account_for_numbers(request, acts.rows)
    shown = {
        "page": acts,
        "filters": filters,
        "states": page.STATES.items(),
        "waits": page.waits(actor, at=at) if filters.state == "waiting" else {},
        "severities": Severity.choices,
        "news": unread_news(actor, at=at),
        "held": held_for(actor, at=at),
        "refused": refused_count(actor, at=at),
        "may_judge": access.reach(actor, Action.JUDGE_EMERGENCY, at) is not None,
        "may_compare": access.reach(actor, Action.SEE_DIFFERENCES, at) is not None,
    }
    return render(request, "alerts/list.html", shown)


def _account_for_numbers(request: HttpRequest, acts: Sequence[page.Shown]) -> None:
    """Whose telephone number stands on the page is in the trail before it is seen."""
    episodes = {one.act.episode_id for one in acts if one.phone}
    note_opened_today(actor=signed_in(request), episodes=episodes, page=NUMBER)


def answer_act(request: HttpRequest, episode_id: UUID, entry: UUID) -> HttpResponse:
    """Say what was done about an act."""
    actor = signed_in(request)
    at = clock.now()
    shown = page.one_act(actor, episode_id, entry, at=at)
    _account_for_numbers(request, [shown])
    form = _form(request, shown)
    act = Act(
        title=shown.asks,
        submit=_("Record it") if shown.may_add else _("Answer"),
        back=next_of(request) or reverse("alerts"),
        over=_("Alerts"),
        template="alerts/answer.html",
        extra={"shown": shown},
    )
    do = partial(_say, actor=actor, episode_id=episode_id, entry=entry)
    return answer(request, act, form, do, then=partial(_answered, actor, shown, form))


def _form(request: HttpRequest, shown: page.Shown) -> AnswerForm:
    form = (AgainForm if shown.may_add else AnswerForm)(request.POST or None)
    form.fields["text"].label = shown.asks
    return form


def _say(*, actor: Staff, episode_id: UUID, entry: UUID, text: str, wrong: bool = False) -> int:
    do = services.take_back if wrong else services.acknowledge
    return do(actor=actor, episode_id=episode_id, entry=entry, text=text)


def _answered(actor: Staff, shown: page.Shown, form: AnswerForm, _answers: int, act: Act) -> Act:
    if form.cleaned_data.get("wrong"):
        return replace(act, done=page.taken_back_words(shown))
    return replace(act, done=page.answered_words(actor, shown, at=clock.now()))


@require_POST
def read_news(request: HttpRequest) -> HttpResponse:
    """Mark one's own news as read: one piece of it, or what was on the screen."""
    one, up_to, since = (_number(request.POST.get(name, "")) for name in ("one", "up_to", "since"))
    if one:
        services.read_notice(actor=signed_in(request), number=one)
    else:
        services.read_notices(actor=signed_in(request), up_to=up_to, since=since)
    return redirect("alerts")


def _number(sent: str) -> int:
    return int(sent) if sent.isdecimal() and len(sent) < 19 else 0


@poll
@require_GET
def tally(request: HttpRequest) -> JsonResponse:
    """How much waits. Asked by every page every few seconds; keeps no session alive."""
    return JsonResponse(page.tally(signed_in(request), at=clock.now()))
