"""Who carries an episode, and who stands in: with dates, never two at once. Access follows the dates."""

import uuid
from datetime import datetime
from typing import ClassVar

from django.contrib.postgres.fields import DateTimeRangeField
from django.contrib.postgres.indexes import GistIndex
from django.db import models

from caseload.episode.reach import OfEpisode
from clinic.access.fenced import ByEpisode, fenced, through
from clinic.access.policy import Action
from clinic.staff.models import one_at_a_time


def ahead(at: datetime) -> models.Q:
    """Turns, of carrying or of covering, that are in force or to come."""
    reaching = models.Q(period__upper_inf=True) | models.Q(period__endswith__gt=at)
    return models.Q(period__isempty=False) & reaching


class Assignment(OfEpisode, models.Model):
    """The therapist who carries an episode, from one instant to another (end excluded; open = until further notice)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="assignments")
    staff = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="assignments")
    period = DateTimeRangeField()
    made_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=400, blank=True)
    version = models.PositiveIntegerField(default=1)

    FENCE: ClassVar = fenced(
        through(ByEpisode(hand=True), Action.SEE_PERSON),
        writes=[through(ByEpisode(), Action.ASSIGN, Action.CLOSE_EPISODE)],
    )

    class Meta:
        constraints: ClassVar = [one_at_a_time("assignment_one_at_a_time", "episode")]
        indexes: ClassVar = [GistIndex(fields=["period"], name="assignment_period")]


class Cover(OfEpisode, models.Model):
    """A colleague who stands in for the assigned therapist while they are away."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="covers")
    staff = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="covers")
    period = DateTimeRangeField()
    made_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    reason = models.CharField(max_length=400, blank=True)
    version = models.PositiveIntegerField(default=1)

    FENCE: ClassVar = fenced(
        through(ByEpisode(hand=True), Action.SEE_PERSON),
        writes=[through(ByEpisode(), Action.ARRANGE_COVER, Action.ASSIGN, Action.CLOSE_EPISODE)],
    )

    class Meta:
        constraints: ClassVar = [one_at_a_time("cover_one_at_a_time", "episode")]
        indexes: ClassVar = [GistIndex(fields=["period"], name="cover_period")]
