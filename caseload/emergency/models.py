"""Emergency access: somebody may read one episode that is not theirs, for an hour, and is asked about it afterwards."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.contrib.postgres.fields import DateTimeRangeField
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy

from caseload.episode.reach import OfEpisode
from clinic.access.fenced import ByEpisode, Mine, fenced, through
from clinic.access.policy import Action
from clinic.staff.models import one_at_a_time


class Judgement(models.TextChoices):
    """What a clinic lead found afterwards."""

    NEEDED = "needed", gettext_lazy("it was needed")
    NOT_NEEDED = "not_needed", gettext_lazy("it was not needed")


class EmergencyAccess(OfEpisode, models.Model):
    """Reading one episode without carrying or covering it. The reason stands; the hour passes by itself."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="emergencies")
    staff = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="emergencies")
    period = DateTimeRangeField()
    reason = models.CharField(max_length=400)
    judgement = models.CharField(max_length=10, choices=Judgement, blank=True)
    judged_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    judged_at = models.DateTimeField(null=True)
    judged_text = models.CharField(max_length=400, blank=True)

    FENCE: ClassVar = fenced(
        through(Mine("staff_id")),
        through(ByEpisode(), Action.SEE_PERSON, Action.JUDGE_EMERGENCY, Action.SEE_TRAIL),
        inserts=[through(Mine("staff_id"))],
        updates=[through(ByEpisode(), Action.JUDGE_EMERGENCY)],
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(name="emergency_judgement", condition=Q(judgement__in=["", *Judgement.values])),
            models.CheckConstraint(name="emergency_says_why", condition=~Q(reason="")),
            models.CheckConstraint(
                name="emergency_judged_by_another", condition=Q(judged_by__isnull=True) | ~Q(judged_by=F("staff"))
            ),
            one_at_a_time("emergency_once", "episode", "staff"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["staff"], name="emergency_of_staff"),
            models.Index(fields=["judged_at"], name="emergency_to_judge", condition=Q(judged_at__isnull=True)),
        ]
