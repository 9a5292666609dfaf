"""The shape of what is typed to adopt."""

from django import forms

from clinic.staff.factors.asking import ProofForm


class AdoptForm(ProofForm):
    """The digest of the list that was read; and who one is, shown again."""

    digest = forms.CharField(widget=forms.HiddenInput, max_length=64)
