"""The shape of what is typed about who carries whom."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any, cast
from uuid import UUID

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from clinic.web.acts import DayInput, Pick, Version, offer

if TYPE_CHECKING:
    from django.forms.boundfield import BoundWidget

    from caseload.assignment.gaps import Span
    from caseload.assignment.stand_ins import StandIn, ToCover
    from caseload.episode.models import Episode


class ReassignForm(forms.Form):
    """Another therapist, and why."""

    staff_id = Pick(label=gettext_lazy("To whom"))
    reason = forms.CharField(
        label=gettext_lazy("Why"), max_length=400, help_text=gettext_lazy("Their next therapist will want to know.")
    )
    move_visits = forms.BooleanField(required=False, initial=True)
    standing_id = forms.UUIDField(widget=forms.HiddenInput, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def booked(self, sessions: Sequence[str]) -> None:
        """Ask whether these sessions go along; where none is booked there is nothing to ask."""
        if not sessions:
            del self.fields["move_visits"]
            return
        words = ngettext(
            "The planned session goes with them: {days}", "The {n} planned sessions go with them: {days}", len(sessions)
        )
        self.fields["move_visits"].label = words.format(n=len(sessions), days="; ".join(sessions))


class CoverForm(forms.Form):
    """A colleague and the days on which they stand in, both included."""

    staff_id = Pick(label=gettext_lazy("Who stands in"))
    first_day = forms.DateField(label=gettext_lazy("From"), widget=DayInput)
    last_day = forms.DateField(label=gettext_lazy("To, that day included"), widget=DayInput)
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=400, required=False)
    although_away = forms.BooleanField(
        label=gettext_lazy("I mean it, though whoever stands in is away themselves on these days"), required=False
    )

    def ask_of(self, stand_ins: Iterable[StandIn]) -> None:
        """Whom to choose from; where nobody of them has a leave ahead, nothing is asked about one."""
        who = list(stand_ins)
        offer(self, "staff_id", [(one.load.staff_id, one.words) for one in who])
        if not any(one.load.away for one in who):
            del self.fields["although_away"]

    def clean(self) -> dict[str, Any]:
        """The days stand in order."""
        said: dict[str, Any] = super().clean() or {}
        if said.get("first_day") and said.get("last_day") and said["last_day"] < said["first_day"]:
            self.add_error("last_day", _("This day lies before the first."))
        return said


class AwayForm(forms.Form):
    """Whose people are covered: asked first, since it decides who may stand in."""

    away = Pick(label=gettext_lazy("Who is away"))


class LeaveForm(CoverForm):
    """The same for those whom a colleague carries who is away: all of them, or so many."""

    episode_ids = forms.TypedMultipleChoiceField(
        label=gettext_lazy("Whom"), widget=forms.CheckboxSelectMultiple, coerce=UUID
    )
    away_id = Pick()
    field_order = ("episode_ids",)
    reckoned: str = ""  # of whom the page says hours and who may teach
    people: Sequence[ToCover] = ()

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.fields["away_id"].widget = forms.HiddenInput()

    def ask_about(self, people: Iterable[ToCover], days: Span | None, ticked: Sequence[str] | None = None) -> None:
        """Whom to cover: ticked are those for whom nobody stands in on these days yet, unless it is said who is."""
        self.people = list(people)
        cast("forms.TypedMultipleChoiceField", self.fields["episode_ids"]).choices = [
            (str(one.episode_id), one.words) for one in self.people
        ]
        free = [str(one.episode_id) for one in self.people if not one.taken(days)]
        self.initial["episode_ids"] = free if ticked is None else list(ticked)

    @property
    def whom(self) -> list[tuple[BoundWidget, ToCover]]:
        """Each tick, with who stands in for that person already."""
        return list(zip(self["episode_ids"], self.people, strict=True))

    @property
    def any_covered(self) -> bool:
        """Whether somebody stands in for one of them, now or later."""
        return any(one.covers for one in self.people)

    def ticked(self, people: Sequence[Episode]) -> list[Episode]:
        """Those who stand ticked as the page is made, of whom it reckons, and says so; everybody where nobody is."""
        named = {str(key) for key in self["episode_ids"].value() or ()}
        these = [episode for episode in people if str(episode.pk) in named]
        words = _("Hours and who may teach are shown for the {n} ticked of {all}.")
        if not these:
            words = _("Nobody is ticked: hours and who may teach are shown for all {all}.")
        self.reckoned = words.format(n=len(these), all=len(people)) if people else ""
        return these or list(people)


class Nothing(forms.Form):
    """A deed that needs no words, only that it is meant."""


class EndForm(forms.Form):
    """Ending something, made from a version of it."""

    version = Version()
