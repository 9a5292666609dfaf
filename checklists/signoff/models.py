"""Signatures: what was signed stands in SignedEvidence, that it was signed stands here. Append-only."""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from checklists.record.models import Entry
from checklists.signoff.meaning import Meaning
from clinic.access.fenced import READING, RECORDING, ByEpisode, Via, fenced, through
from clinic.staff.models import choice_check


class Signature(models.Model):
    """The signature statement of one entry (checklists.signoff.signature), and what is printed of it everywhere."""

    entry = models.OneToOneField(
        Entry, on_delete=models.PROTECT, to_field="id", primary_key=True, related_name="signature"
    )
    text = models.TextField(help_text="the statement: canonical JSON (RFC 8785)")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the text, which the trail names too")
    signer_name = models.CharField(max_length=120, help_text="as it was when it was signed")
    meaning = models.CharField(max_length=20, choices=Meaning)
    signed_at = models.DateTimeField()
    shown = models.CharField(max_length=60, help_text="how the signer had shown who they were")
    countersigner_name = models.CharField(max_length=120, blank=True)
    countersigner_shown = models.CharField(max_length=60, blank=True)

    FENCE: ClassVar = fenced(
        through(Via("checklists_entry", "entry_id"), *READING),
        inserts=[through(Via("checklists_entry", "entry_id", ByEpisode()), *RECORDING)],
    )

    class Meta:
        constraints: ClassVar = [choice_check("signature_meaning", "meaning", Meaning)]
