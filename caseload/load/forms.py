"""The shape of the clinic's own weights."""

from __future__ import annotations

from collections.abc import Mapping

from django import forms
from django.utils.translation import gettext as _

from caseload.load.models import Phase
from caseload.load.phase import Minutes


class WeightsForm(forms.Form):
    """Minutes a week for a person in each phase, and how many more for two prostheses."""

    def __init__(self, *given: object, now: Mapping[str, Minutes], **named: object) -> None:
        super().__init__(*given, **named)  # type: ignore[arg-type]  # handed through
        for phase in Phase:
            for part, words in (("one", _("minutes a week")), ("extra", _("more with two prostheses"))):
                self.fields[f"{phase}_{part}"] = forms.IntegerField(
                    label=f"{str(phase.label).capitalize()}: {words}",
                    min_value=0,
                    max_value=2400,
                    initial=getattr(now[phase], part),
                )


def weights_of(said: Mapping[str, int]) -> dict[str, Minutes]:
    """Take the weights out of a cleaned form."""
    return {phase: Minutes(said[f"{phase}_one"], said[f"{phase}_extra"]) for phase in Phase.values}
