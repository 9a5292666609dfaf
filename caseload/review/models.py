"""Planned reviews, and the ladder of reminders that chases them."""

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.episode.reach import OfEpisode
from clinic.access.fenced import RECORDING, ByEpisode, Via, fenced, through
from clinic.access.policy import Action
from clinic.staff.models import choice_check


class ReviewKind(models.TextChoices):
    """Why somebody is looked at again."""

    ROUTINE = "routine", gettext_lazy("routine review")
    FALL = "fall", gettext_lazy("after a fall")
    SETTING = "setting", gettext_lazy("after a change of setting or component")
    AWAY = "away", gettext_lazy("after time away")


class Rung(models.TextChoices):
    """How far the reminders of a review have got; each is reached once."""

    DUE_SOON = "due_soon", gettext_lazy("due soon")
    DUE = "due", gettext_lazy("due")
    OVERDUE = "overdue", gettext_lazy("overdue")
    ESCALATED = "escalated", gettext_lazy("escalated to the lead")


class PlannedReview(OfEpisode, models.Model):
    """A review that is due on a local day of the site. What the review found is a fact of the record (`entry`)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="planned_reviews")
    kind = models.CharField(max_length=10, choices=ReviewKind, default=ReviewKind.ROUTINE)
    due_on = models.DateField()
    note = models.CharField(max_length=400, blank=True)
    planned_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="+")
    planned_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True)
    cancelled_at = models.DateTimeField(null=True)
    entry = models.UUIDField(null=True, help_text="the review in the record that settled it")
    version = models.PositiveIntegerField(default=1)

    FENCE: ClassVar = fenced(
        through(ByEpisode(hand=True), Action.SEE_PERSON),
        writes=[through(ByEpisode(hand=True), Action.PLAN_REVIEW, *RECORDING)],
    )

    class Meta:
        constraints: ClassVar = [choice_check("planned_review_kind", "kind", ReviewKind)]
        indexes: ClassVar = [
            models.Index(
                fields=["due_on"],
                name="planned_review_open",
                condition=Q(done_at__isnull=True, cancelled_at__isnull=True),
            )
        ]

    @property
    def named(self) -> str:
        """What it is called where it is planned: 'after a fall' alone is an answer to why."""
        return _("look again after the fall") if self.kind == ReviewKind.FALL else self.get_kind_display()


class Reminder(models.Model):
    """A rung of the ladder that a review has reached. Once each, whatever crashes or runs twice."""

    id = models.BigAutoField(primary_key=True)
    review = models.ForeignKey(PlannedReview, on_delete=models.PROTECT, related_name="reminders")
    due_on = models.DateField(help_text="the due date that it was about: a review put off is reminded anew")
    rung = models.CharField(max_length=10, choices=Rung)
    reached_at = models.DateTimeField()

    FENCE: ClassVar = fenced(through(Via("caseload_plannedreview", "review_id"), Action.SEE_PERSON))

    class Meta:
        constraints: ClassVar = [
            choice_check("reminder_rung", "rung", Rung),
            models.UniqueConstraint(fields=["review", "due_on", "rung"], name="reminder_once"),
        ]
