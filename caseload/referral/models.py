"""The referral: who was sent to us, why and how urgently. Until it becomes an episode the person waits."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import ClassVar

from django.contrib.postgres.fields import ArrayField
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from caseload.episode.models import Side
from clinic.access.fenced import BySite, fenced, through
from clinic.access.policy import Action
from clinic.access.scope import Scope
from clinic.staff.models import Staff, choice_check


class Urgency(models.TextChoices):
    """How soon the person should be seen."""

    ROUTINE = "routine", gettext_lazy("routine")
    SOON = "soon", gettext_lazy("soon")
    URGENT = "urgent", gettext_lazy("urgent")


class Level(models.TextChoices):
    """Amputation level (terms of ISO 8549-4; list from memory). It is told and never decides what may be done."""

    KNEE_DISARTICULATION = "knee_disarticulation", gettext_lazy("knee disarticulation")
    TRANSFEMORAL = "transfemoral", gettext_lazy("transfemoral")
    HIP_DISARTICULATION = "hip_disarticulation", gettext_lazy("hip disarticulation")
    BILATERAL = "bilateral", gettext_lazy("both legs")
    UNKNOWN = "unknown", gettext_lazy("not known yet")


class Referral(models.Model):
    """One referral. `ended_at` with an `end_reason` where it never became an episode."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey("caseload.Person", on_delete=models.PROTECT, related_name="referrals")
    site = models.ForeignKey("clinic.Site", on_delete=models.PROTECT, related_name="+")
    received_on = models.DateField()
    referrer = models.CharField(max_length=120, blank=True)
    reason = models.TextField()
    urgency = models.CharField(max_length=10, choices=Urgency)
    level = models.CharField(max_length=24, choices=Level)
    side = models.CharField(max_length=5, choices=Side)
    features = ArrayField(
        models.CharField(max_length=20),
        null=True,
        blank=True,
        help_text="what the knee has; NULL where nobody knows it yet",
    )
    taken_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, help_text="when it was assigned and became an episode")
    ended_at = models.DateTimeField(null=True)
    end_reason = models.CharField(max_length=400, blank=True)
    version = models.PositiveIntegerField(default=1)

    FENCE: ClassVar = fenced(
        through(BySite(), Action.SEE_CASELOAD, Action.TAKE_REFERRAL, Action.ASSIGN, Action.SEE_KEEPING),
        writes=[through(BySite(), Action.TAKE_REFERRAL, Action.ASSIGN)],
    )

    class Meta:
        constraints: ClassVar = [
            choice_check("referral_urgency", "urgency", Urgency),
            choice_check("referral_level", "level", Level),
            choice_check("referral_side", "side", Side),
            models.UniqueConstraint(
                fields=["person"],
                condition=Q(accepted_at__isnull=True, ended_at__isnull=True),
                name="referral_one_waiting_a_person",
            ),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["received_on"],
                name="referral_waiting",
                condition=Q(accepted_at__isnull=True, ended_at__isnull=True),
            )
        ]

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """Referrals in a scope; nobody owns one that waits."""
        if scope is Scope.ALL:
            return Q()
        return Q(site_id=actor.site_id) if scope is Scope.SITE else Q(pk__isnull=True)
