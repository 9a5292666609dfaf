"""The Watch page, what every page asks every few seconds, and the answer to an alarm."""

from __future__ import annotations

from functools import partial
from uuid import UUID

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_GET

from clinic import clock
from clinic.audit.details import value_of
from clinic.watch import alarms, selectors
from clinic.web.acts import Act, answer
from clinic.web.entrance import poll
from clinic.web.forms import signed_in


class SettleForm(forms.Form):
    """What came of it."""

    text = forms.CharField(
        label=gettext_lazy("What was found, and what was done"),
        max_length=alarms.LONGEST,
        widget=forms.Textarea(attrs={"rows": 5}),
    )


@require_GET
def watch(request: HttpRequest) -> HttpResponse:
    """Everything that is watched: how it stands, its limit, what to do; the alarms, open and answered."""
    actor, at = signed_in(request), clock.now()
    page = {"state": selectors.watched(actor, at=at), "alarms": selectors.every_alarm(actor, at=at), "at": at}
    return render(request, "watch/watch.html", page)


@poll
@require_GET
def now(request: HttpRequest) -> HttpResponse:
    """The banner as it stands now. Asked by every page that stays open; keeps no session alive."""
    return render(request, "watch/now.html", {"banner": selectors.banner(signed_in(request), clock.now())})


def settle_alarm(request: HttpRequest, alarm_id: UUID) -> HttpResponse:
    """Say what came of an alarm."""
    actor, at = signed_in(request), clock.now()
    alarm = selectors.one_alarm(actor, alarm_id, at=at)
    act = Act(
        title=_("What came of this alarm"),
        submit=_("Settle it"),
        back=reverse("watch"),
        over=_("Alarm · {kind}").format(kind=value_of(alarm.kind)),
        lead=alarm.text,
        caution=_("It stays on the page Server, settled, with your name and these words."),
        done=_("Settled. It stays on the page Server with what you said."),
    )
    return answer(request, act, SettleForm(request.POST or None), partial(alarms.settle, alarm.key, actor=actor, at=at))
