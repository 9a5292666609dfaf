"""A page with one form that does one thing: shown, sent, refused with what was typed still in it, or done and left.

def pause(request: HttpRequest, episode_id: UUID) -> HttpResponse:
    ...
    act = Act(title="Pause", submit="Pause", back=reverse("plan", args=[episode_id]))
    return answer(request, act, PauseForm(request.POST or None), partial(pause_episode, actor=…))
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, cast
from uuid import UUID

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.errors import Refusal, Stale
from clinic.language.text import Text
from clinic.web.forms import refused

CHOOSE = gettext_lazy("Choose …")


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """What the page around the form says, and where it leads afterwards."""

    title: Text
    submit: Text
    back: str
    over: Text = ""
    lead: Text = ""
    caution: Text = ""
    done: Text = ""
    layout: str = ""  # two: fields in two columns
    template: str = "act.html"
    extra: Mapping[str, object] = field(default_factory=dict)


def answer(
    request: HttpRequest,
    act: Act,
    form: forms.Form,
    do: Callable[..., object],
    *,
    fresh: Callable[[], int] | None = None,
    then: Callable[[Any, Act], Act] | None = None,
) -> HttpResponse:
    """Show the form; when it is sent and fits, do it (fields by name) and go back to where it came from.

    A refusal is said above the form, which keeps what was typed. After a Stale one the form carries the version that
    stands now (`fresh`), so that sending it again is a decision made in view of what changed. What is not there, or not
    theirs to do, is for the error pages. `then`: where it leads, and what is said, in view of what came of it.
    """
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                came = do(**form.cleaned_data)
            except Refusal as refusal:
                status = refused(form, refusal)
                if isinstance(refusal, Stale) and fresh is not None:
                    data = request.POST.copy()
                    data["version"] = str(fresh())
                    form.data = data
            else:
                act = then(came, act) if then else act
                messages.success(request, act.done or _("{title}: done.").format(title=act.title))
                return HttpResponseRedirect(act.back)
    return render(request, act.template, {"act": act, "form": form, **act.extra}, status=status)


class DayInput(forms.DateInput):
    """A day, asked for with the browser's own calendar; js/days.js writes it out in words beside it."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(attrs={"data-day": ""}, format="%Y-%m-%d")


class TimeOfDayInput(forms.TimeInput):
    """A time of day with minutes."""

    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M")


class Version(forms.IntegerField):
    """The version of the row that the form was made from, carried along unseen."""

    widget = forms.HiddenInput

    def __init__(self) -> None:
        super().__init__(min_value=0)


class Pick(forms.TypedChoiceField):
    """One row out of a list, by its UUID. `offer` gives it the list when the form is made."""

    def __init__(self, *, required: bool = True, label: Text = "", help_text: Text = "") -> None:
        super().__init__(coerce=UUID, empty_value=None, required=required, label=label, help_text=help_text)


def offer(form: forms.Form, name: str, options: Iterable[tuple[object, str]], *, nothing: Text = CHOOSE) -> None:
    """Give a Pick of a form its list, after a line that chooses nothing."""
    cast("Pick", form.fields[name]).choices = [("", nothing), *((str(key), words) for key, words in options)]


def posted_version(request: HttpRequest) -> int:
    """The version that a single press names; what is no number is older than everything."""
    text = request.POST.get("version", "")
    return int(text) if text.isdecimal() and len(text) < 10 else -1
