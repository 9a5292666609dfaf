"""The episode: one person's way through the clinic from first to last session, and its pauses."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import ClassVar

from django.contrib.postgres.fields import ArrayField, DateRangeField
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from caseload.episode.reach import OfEpisode, episode_reach, in_emergency
from clinic.access.fenced import READING, RECORDING, ByEpisode, fenced, through
from clinic.access.policy import Action
from clinic.access.scope import Scope
from clinic.staff.models import Staff, one_at_a_time


class Side(models.TextChoices):
    """Where the prosthesis is."""

    LEFT = "left", gettext_lazy("left")
    RIGHT = "right", gettext_lazy("right")
    BOTH = "both", gettext_lazy("both sides")


class Episode(models.Model):
    """The plan's side of an episode.

    `side`, `features`, `knee_said`, `opened_at` and `closed_at` repeat what the record of facts says, so that lists
    need not fold it: the one write path keeps them (checklists.record), and nothing else writes them.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    reference = models.CharField(max_length=24, unique=True, help_text="how the record names it")
    person = models.ForeignKey("caseload.Person", on_delete=models.PROTECT, related_name="episodes")
    referral = models.OneToOneField("caseload.Referral", on_delete=models.PROTECT, null=True, related_name="episode")
    site = models.ForeignKey("clinic.Site", on_delete=models.PROTECT, related_name="+")
    created_at = models.DateTimeField()
    side = models.CharField(max_length=5, blank=True)
    features = ArrayField(models.CharField(max_length=20), default=list, blank=True)
    knee_said = models.BooleanField(
        null=True, help_text="opened with a knee that nobody knew: has the record said it since? NULL: known at once"
    )
    opened_at = models.DateTimeField(null=True)
    closed_at = models.DateTimeField(null=True)
    version = models.PositiveIntegerField(default=1)

    FENCE: ClassVar = fenced(
        through(ByEpisode("id", hand=True), *READING), writes=[through(ByEpisode("id", hand=True), *RECORDING)]
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(name="episode_side", condition=Q(side__in=["", *Side.values])),
            models.UniqueConstraint(
                fields=["person"], condition=Q(closed_at__isnull=True), name="episode_one_open_a_person"
            ),
        ]

    @property
    def knee(self) -> list[str] | None:
        """What the knee has; None where nobody knows it yet. The record then holds no feature: no skill may count on
        one."""
        return None if self.knee_said is False else self.features

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """Episodes in a scope of the actor's at an instant."""
        return episode_reach(actor, scope, at)

    @classmethod
    def in_emergency(cls, actor: Staff, at: datetime) -> Q:
        """Episodes that the actor may read by emergency access."""
        return Q(pk__in=in_emergency(actor, at))


class Pause(OfEpisode, models.Model):
    """Days on which an episode rests (upper end excluded; open = until further notice)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey(Episode, on_delete=models.PROTECT, related_name="pauses")
    period = DateRangeField()
    reason = models.CharField(max_length=400)

    FENCE: ClassVar = fenced(
        through(ByEpisode(), Action.SEE_PERSON),
        writes=[through(ByEpisode(), Action.PAUSE_EPISODE, Action.CLOSE_EPISODE)],
    )

    class Meta:
        constraints: ClassVar = [one_at_a_time("pause_one_at_a_time", "episode")]
