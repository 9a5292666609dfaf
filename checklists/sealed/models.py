"""Sealed marks, as they were brought."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from clinic.access.fenced import Mine, Somebody, fenced, through


class Outcome(models.TextChoices):
    """What became of a sealed mark."""

    RECORDED = "recorded", gettext_lazy("recorded")
    HELD = "held", gettext_lazy("waits for a lead")
    DROPPED = "dropped", gettext_lazy("dropped")


class SealedMark(models.Model):
    """A mark that somebody recorded on a tablet, sealed there, and brought by whoever was signed in next.

    `author` and `mark` are what the tablet said; what is sealed opens for these two alone. The content goes when it is
    settled. `episode` is known once it could be opened.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    author = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="sealed_marks")
    mark = models.CharField(max_length=40, help_text="the id that it has in the record, as the tablet said")
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, null=True, related_name="+")
    key = models.CharField(max_length=10, help_text="which of the clinic's keys it was sealed for")
    enc = models.BinaryField()
    box = models.BinaryField()
    digest = models.CharField(max_length=64, help_text="of all that was brought: the same again is the same")
    brought_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    brought_at = models.DateTimeField()
    error = models.CharField(max_length=400, blank=True, help_text="why the record did not take it")
    settled_at = models.DateTimeField(null=True)
    outcome = models.CharField(max_length=10, choices=Outcome, blank=True)
    reason = models.CharField(max_length=400, blank=True)

    # Whoever brings them never sees them: new rows are written without reading them back.
    FENCE: ClassVar = fenced(
        through(Mine("author_id")), inserts=[through(Somebody())], updates=[through(Mine("author_id"))]
    )

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["author", "digest"], name="sealed_once"),
            models.CheckConstraint(
                name="sealed_outcome",
                condition=Q(settled_at__isnull=True, outcome="")
                | Q(settled_at__isnull=False, outcome__in=Outcome.values),
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["author"], name="sealed_waiting", condition=Q(settled_at__isnull=True)),
        ]
