"""The shape of a change that is recorded at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import uuid4

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.request.models import Setting
from caseload.words import FEATURES
from checklists.bench.parts import Stage
from checklists.bench.selectors import Work
from checklists.words.tables import worded
from clinic.web.acts import DayInput, Version


class ChangeForm(forms.Form):
    """To what, on which knee, and whatever a reader should know. Fields follow from the setting and the person."""

    entry_id = forms.UUIDField(widget=forms.HiddenInput)
    version = Version()

    def __init__(self, data: object, *, work: Work) -> None:
        version = work.asked.version if work.asked else 0
        new = work.way.new or work.stage == Stage.AGAIN
        start = {"entry_id": uuid4(), "version": version, "new_part": new}
        super().__init__(data, initial={**start, "knee": work.way.side, **self._of_the_record(work)})  # type: ignore[arg-type]  # a request's POST, or nothing
        if work.plan.side == "both" and work.stage not in (Stage.FIRST, Stage.REGISTER):
            sides = [(key, worded(key, "side")) for key in ("left", "right")]
            self.fields["knee"] = forms.ChoiceField(
                label=_("Which prosthesis"), choices=sides, widget=forms.RadioSelect
            )
        if not work.value and work.stage in (Stage.CHANGE, Stage.EXCHANGE):  # what the record knows is not asked
            self.fields["before"] = forms.CharField(label=work.known, max_length=120, required=False)
        self.fields["to"] = self._to(work)
        if work.stage != Stage.CHANGE:
            self._part(work)
        if work.setting == Setting.KNEE and work.stage != Stage.REGISTER:
            self.fields["features"] = self._features(work)
        if work.stage not in (Stage.FIRST, Stage.REGISTER):
            self.fields["note"] = forms.CharField(
                label=_("Note"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2})
            )

    @classmethod
    def kept(cls, data: QueryDict, *, work: Work) -> ChangeForm:
        """The form with what was typed in it, and nothing found fault with."""
        form = cls(None, work=work)
        typed = {name: field.widget.value_from_datadict(data, {}, name) for name, field in form.fields.items()}
        form.initial.update({name: value for name, value in typed.items() if value is not None})
        return form

    @staticmethod
    def _of_the_record(work: Work) -> dict[str, object]:
        """What the record says of an exchange whose part the register has not got, or the register of a part whose
        exchange the record has not got; the note of what was struck out."""
        lacks, part, struck = work.hand.lacks, work.hand.part, work.hand.struck
        note = {"note": struck.note} if struck else {}
        if part:
            return {"to": part.description, "serial": part.serial, **note}
        if lacks is None:
            return {"since": work.today, **note}
        name, serial = lacks.name
        return {"to": name, "serial": serial, "since": lacks.day}

    def _part(self, work: Work) -> None:
        """What the register asks of a part besides its name."""
        anew = work.stage in (Stage.EXCHANGE, Stage.AGAIN)
        if anew and work.setting != Setting.KNEE:
            self.fields["new_part"] = forms.BooleanField(
                label=_("It is a new part"), help_text=_("It goes into the register as well."), required=False
            )
        self.fields["serial"] = forms.CharField(label=_("Serial number"), max_length=60, required=False)
        if not anew:
            self.fields["since"] = forms.DateField(label=_("Worn from"), widget=DayInput)

    @staticmethod
    def _features(work: Work) -> forms.Field:
        """What the knee has. What is ticked beforehand says where it comes from; where nobody knows, nothing is."""
        first, struck = work.stage == Stage.FIRST or work.hand.is_first, work.hand.struck
        said = _("Ticked: as recorded when care began.") if not work.knee_said else _("Ticked: as recorded so far.")
        known = said if first else _("Ticked: as the present knee.")
        ticked: Sequence[str] | None = work.plan.knee
        if struck and struck.features is not None:
            ticked, known = struck.features, _("Ticked: as in what was struck out.")
        more = _("Press what it has besides or lacks.") if first else _("Press what the new one lacks or has besides.")
        return forms.MultipleChoiceField(
            label=_("The knee has") if first else _("The new knee has"),
            help_text=f"{known} {more}" if ticked else "",
            choices=FEATURES,
            widget=forms.CheckboxSelectMultiple,
            required=False,
            initial=list(ticked or ()),
        )

    @staticmethod
    def _to(work: Work) -> forms.Field:
        words = work.setting_words.capitalize()
        if work.stage in (Stage.FIRST, Stage.REGISTER):
            return forms.CharField(label=words, max_length=120)
        label = _("{setting_words}, to").format(setting_words=words)
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
