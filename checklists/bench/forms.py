"""The shape of a change that is recorded at the bench."""

from __future__ import annotations

from uuid import uuid4

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.request.models import Setting
from caseload.words import FEATURES
from checklists.bench.selectors import Work
from checklists.words.tables import worded
from clinic.web.acts import Version


class ChangeForm(forms.Form):
    """To what, on which knee, and whatever a reader should know. Fields follow from the setting and the person."""

    entry_id = forms.UUIDField(widget=forms.HiddenInput)
    version = Version()

    def __init__(self, data: object, *, work: Work) -> None:
        version = work.asked.version if work.asked else 0
        start = {"entry_id": uuid4(), "version": version, "to": work.fitted}
        super().__init__(data, initial=start)  # type: ignore[arg-type]  # a request's POST, or nothing
        if work.plan.side == "both":
            sides = [(key, worded(key, "side")) for key in ("left", "right")]
            self.fields["knee"] = forms.ChoiceField(
                label=_("Which prosthesis"), choices=sides, widget=forms.RadioSelect
            )
        if not work.value:  # what the record knows is shown, not asked
            self.fields["before"] = forms.CharField(label=work.known, max_length=120, required=False)
        self.fields["to"] = self._to(work)
        if work.setting == Setting.KNEE:
            self.fields["features"] = forms.MultipleChoiceField(
                label=_("The new knee has"),
                help_text=_("Ticked: as the present knee. Press what the new one lacks or has besides."),
                choices=FEATURES,
                widget=forms.CheckboxSelectMultiple,
                required=False,
                initial=list(work.features_then),
            )
        self.fields["note"] = forms.CharField(
            label=_("Note"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2})
        )

    @staticmethod
    def _to(work: Work) -> forms.Field:
        label = _("{setting_words}, to").format(setting_words=work.setting_words.capitalize())
        if not work.marks:
            return forms.CharField(label=label, max_length=120)
        made = work.cost.made
        marks = [
            (str(mark), _("{mark} now").format(mark=mark) if str(mark) == work.value and not made else str(mark))
            for mark in work.marks
        ]
        return forms.ChoiceField(label=label, choices=marks, widget=forms.RadioSelect(attrs={"class": "dial"}))


class DeclineForm(forms.Form):
    """Why nothing is changed."""

    reason = forms.CharField(label=gettext_lazy("Why"), max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))
    version = Version()
