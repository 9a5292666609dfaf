"""What a therapist asks of the prosthetist: asked, seen, done."""

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy, gettext_noop

from caseload.episode.reach import OfEpisode
from clinic.access.fenced import ByEpisode, fenced, through
from clinic.access.policy import Action
from clinic.staff.models import choice_check

CHANGED_TO = gettext_noop("Changed to {value}")  # how the answer of a request that led to a change begins


class Setting(models.TextChoices):
    """What can be changed on a prosthesis (SEMANTICS.md §1, `setting_changed`)."""

    RESISTANCE = "resistance", gettext_lazy("stance-flexion resistance")
    ALIGNMENT = "alignment", gettext_lazy("alignment")
    SOCKET = "socket", gettext_lazy("socket")
    FOOT = "foot", gettext_lazy("foot")
    KNEE = "knee", gettext_lazy("knee")
    FOOTWEAR = "footwear", gettext_lazy("footwear")


class RequestState(models.TextChoices):
    """How far a request has got."""

    ASKED = "asked", gettext_lazy("asked")
    SEEN = "seen", gettext_lazy("seen")
    DONE = "done", gettext_lazy("done")
    DECLINED = "declined", gettext_lazy("declined")


class AdjustmentRequest(OfEpisode, models.Model):
    """One request. The change that answers it is a fact of the record (`entry`)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="requests")
    setting = models.CharField(max_length=12, choices=Setting)
    text = models.TextField()
    state = models.CharField(max_length=10, choices=RequestState, default=RequestState.ASKED)
    asked_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    asked_at = models.DateTimeField()
    seen_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    seen_at = models.DateTimeField(null=True)
    done_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    done_at = models.DateTimeField(null=True)
    answer = models.TextField(blank=True)
    entry = models.UUIDField(null=True)
    version = models.PositiveIntegerField(default=1)

    FENCE: ClassVar = fenced(
        through(ByEpisode(), Action.SEE_REQUESTS),
        writes=[through(ByEpisode(), Action.ASK_ADJUSTMENT, Action.ANSWER_ADJUSTMENT)],
    )

    class Meta:
        constraints: ClassVar = [
            choice_check("request_setting", "setting", Setting),
            choice_check("request_state", "state", RequestState),
            models.CheckConstraint(
                name="request_done_by_somebody",
                condition=~Q(state__in=["done", "declined"]) | Q(done_by__isnull=False, done_at__isnull=False),
            ),
        ]
        indexes: ClassVar = [
            models.Index(fields=["asked_at"], name="request_open", condition=Q(state__in=["asked", "seen"]))
        ]
