"""What a person costs in time, by the clinic's own weights: no published one was found for this work."""

from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy


class Phase(models.TextChoices):
    """How far along an episode is, for the purpose of planning time."""

    NEW = "new", gettext_lazy("first eight weeks")
    TRAINING = "training", gettext_lazy("training")
    KEEPING = "keeping", gettext_lazy("reviews only")
    PAUSED = "paused", gettext_lazy("paused")


class LoadWeight(models.Model):
    """Minutes a week that the clinic sets aside for a person in a phase; more for two prostheses."""

    phase = models.CharField(max_length=10, choices=Phase, primary_key=True)
    minutes_per_week = models.PositiveIntegerField()
    both_sides_extra = models.PositiveIntegerField(default=0)

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(name="load_weight_phase", condition=Q(phase__in=Phase.values)),
        ]
