"""Differences between what a tablet and the server made of the same record, and how often it was looked at."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models

from caseload.episode.reach import OfEpisode
from clinic.access.fenced import ByEpisode, fenced, through
from clinic.access.policy import Action
from clinic.staff.models import choice_check


class Difference(OfEpisode, models.Model):
    """One entry of which the core on a tablet and the core here said different things, over the same facts.

    The case is kept by what makes it: the record up to `number`, which is append-only and so the same for ever, and
    `history`, the SHA-256 of its lines, which shows that it is. What the facts say is not kept a second time: it goes
    with them when a person is erased.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="differences")
    entry = models.UUIDField(unique=True, help_text="the entry of which it was said; each is a case once")
    number = models.BigIntegerField(help_text="of that entry: the record up to it is the case")
    claimed = models.JSONField(help_text="what the tablet said: after, with, alerts, core")
    found = models.JSONField(help_text="the alerts that the server's core says: rule, entry, severity")
    core = models.CharField(max_length=80, help_text="the version of the core on the tablet")
    protocol = models.ForeignKey("checklists.ProtocolVersion", on_delete=models.PROTECT, related_name="+")
    digest = models.CharField(max_length=64, help_text="of the protocol")
    history = models.CharField(max_length=64, help_text="SHA-256 of the case's lines")
    sender = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    found_at = models.DateTimeField()

    FENCE: ClassVar = fenced(through(ByEpisode(), Action.SEE_DIFFERENCES))  # written by the worker alone

    class Meta:
        indexes: ClassVar = [models.Index(fields=["-found_at"], name="difference_newest")]


class Outcome(models.TextChoices):
    """What a second look found."""

    SAME = "same", "the same after all"
    OTHER_RECORD = "other_record", "over another record: not to be compared"
    DIFFERENT = "different", "different"


class Tally(models.Model):
    """How many entries were looked at again, by day (UTC) and outcome; those that agreed at once are not counted."""

    id = models.BigAutoField(primary_key=True)
    day = models.DateField()
    outcome = models.CharField(max_length=12, choices=Outcome)
    many = models.PositiveIntegerField(default=0)

    class Meta:
        constraints: ClassVar = [
            choice_check("judged_outcome", "outcome", Outcome),
            models.UniqueConstraint(fields=["day", "outcome"], name="tally_once_a_day"),
        ]
