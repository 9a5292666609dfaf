"""Planned sessions: who comes when, to whom, and for how long."""

import uuid
from datetime import datetime
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from caseload.episode.reach import OfEpisode
from clinic.access.fenced import RECORDING, ByEpisode, fenced, through
from clinic.access.policy import Action
from clinic.staff.models import choice_check


class VisitState(models.TextChoices):
    """What became of a planned session."""

    PLANNED = "planned", gettext_lazy("planned")
    CAME = "came", gettext_lazy("came")
    MISSED = "missed", gettext_lazy("did not come")
    CANCELLED = "cancelled", gettext_lazy("cancelled")


def still_planned(at: datetime) -> Q:
    """Sessions that are to come."""
    return Q(state=VisitState.PLANNED, starts_at__gte=at)


class Visit(OfEpisode, models.Model):
    """One planned session."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="visits")
    site = models.ForeignKey("clinic.Site", on_delete=models.PROTECT, related_name="+")
    staff = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="visits")
    starts_at = models.DateTimeField()
    minutes = models.PositiveSmallIntegerField(default=45)
    state = models.CharField(max_length=10, choices=VisitState, default=VisitState.PLANNED)
    note = models.CharField(max_length=400, blank=True)
    version = models.PositiveIntegerField(default=1)

    FENCE: ClassVar = fenced(
        through(ByEpisode(hand=True), Action.SEE_PERSON),
        writes=[through(ByEpisode(hand=True), Action.PLAN_VISIT, *RECORDING)],
    )

    class Meta:
        constraints: ClassVar = [
            choice_check("visit_state", "state", VisitState),
            models.CheckConstraint(name="visit_lasts", condition=Q(minutes__gte=5, minutes__lte=480)),
            models.UniqueConstraint(
                fields=["episode", "starts_at"], condition=~Q(state="cancelled"), name="visit_not_twice"
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["site", "starts_at"], name="visit_of_day")]
