"""The device register: which prosthesis a person wears and what it is made of. Settings are facts of the record."""

import uuid
from typing import ClassVar

from django.contrib.postgres.fields import DateRangeField
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from caseload.episode.reach import OfEpisode
from clinic.access.fenced import ByEpisode, Via, fenced, through
from clinic.access.policy import Action
from clinic.staff.models import choice_check


class PartKind(models.TextChoices):
    """What a component is (parts of ISO 13405; list from memory)."""

    SOCKET = "socket", gettext_lazy("socket")
    LINER = "liner", gettext_lazy("liner")
    KNEE = "knee", gettext_lazy("knee")
    FOOT = "foot", gettext_lazy("foot")
    OTHER = "other", gettext_lazy("other")


class Prosthesis(OfEpisode, models.Model):
    """One prosthesis on one side. A person with two has two rows."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="prostheses")
    side = models.CharField(max_length=5, choices=[("left", "left"), ("right", "right")])
    label = models.CharField(max_length=80)
    resistance_low = models.PositiveSmallIntegerField(default=1, help_text="lowest mark of the stance-flexion scale")
    resistance_high = models.PositiveSmallIntegerField(default=9, help_text="highest mark of the scale")
    version = models.PositiveIntegerField(default=1)

    FENCE: ClassVar = fenced(
        through(ByEpisode(), Action.SEE_PERSON), writes=[through(ByEpisode(), Action.KEEP_DEVICES)]
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(name="prosthesis_side", condition=Q(side__in=["left", "right"])),
            models.UniqueConstraint(fields=["episode", "side"], name="prosthesis_one_a_side"),
        ]


class Component(models.Model):
    """A part of a prosthesis with the days on which it was worn (end excluded)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    prosthesis = models.ForeignKey(Prosthesis, on_delete=models.PROTECT, related_name="components")
    kind = models.CharField(max_length=10, choices=PartKind)
    description = models.CharField(max_length=120)
    serial = models.CharField(max_length=60, blank=True)
    period = DateRangeField()

    FENCE: ClassVar = fenced(
        through(Via("caseload_prosthesis", "prosthesis_id"), Action.SEE_PERSON),
        writes=[through(Via("caseload_prosthesis", "prosthesis_id", ByEpisode()), Action.KEEP_DEVICES)],
    )

    class Meta:
        constraints: ClassVar = [choice_check("component_kind", "kind", PartKind)]
