"""Alerts: one row per identity (episode, rule, entry) with dated steps. Withdrawn, never deleted."""

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import pgettext_lazy

from caseload.episode.reach import OfEpisode
from checklists.alerts.severity import Severity as Severity
from clinic.access.fenced import RECORDING, ByEpisode, Mine, Via, ViaNewAlert, fenced, through
from clinic.access.policy import Action
from clinic.staff.models import choice_check


class Alert(OfEpisode, models.Model):
    """A rule that an entry broke. `open` follows the facts; what was done about it are steps.

    `by_rule` is false for what only the server can know (a sign-off without authority, a refused fall): a replay has no
    such alert.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, related_name="alerts")
    rule = models.CharField(max_length=60)
    entry = models.UUIDField(help_text="the act")
    severity = models.CharField(max_length=10, choices=Severity)
    by_rule = models.BooleanField(default=True)
    happened_at = models.DateTimeField()
    known_at = models.DateTimeField()
    open = models.BooleanField(default=True)
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_with = models.UUIDField(null=True, help_text="the first received entry after which it no longer follows")
    acknowledged_at = models.DateTimeField(null=True)
    acknowledged_by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    escalated_at = models.DateTimeField(null=True)

    FENCE: ClassVar = fenced(
        through(ByEpisode(hand=True), Action.SEE_ALERTS),
        writes=[through(ByEpisode(hand=True), Action.ACKNOWLEDGE_ALERT, *RECORDING)],
    )

    class Meta:
        constraints: ClassVar = [
            choice_check("alert_severity", "severity", Severity),
            models.UniqueConstraint(fields=["episode", "rule", "entry"], name="alert_identity"),
        ]
        indexes: ClassVar = [
            models.Index(
                fields=["episode", "-happened_at"],
                name="alert_to_answer",
                condition=Q(open=True, acknowledged_at__isnull=True),
            ),
            models.Index(
                fields=["known_at"],
                name="alert_to_escalate",
                condition=Q(open=True, acknowledged_at__isnull=True, escalated_at__isnull=True),
            ),
        ]


class StepKind(models.TextChoices):
    """What happened to an alert."""

    RAISED = "raised", pgettext_lazy("alert", "raised")
    WITHDRAWN = "withdrawn", pgettext_lazy("alert", "withdrawn")
    RAISED_AGAIN = "raised_again", pgettext_lazy("alert", "raised again")
    ACKNOWLEDGED = "acknowledged", pgettext_lazy("alert", "acknowledged")
    TAKEN_BACK = "taken_back", pgettext_lazy("alert", "answer taken back")
    ESCALATED = "escalated", pgettext_lazy("alert", "escalated to the lead")


class AlertStep(models.Model):
    """One dated step in the life of an alert."""

    id = models.BigAutoField(primary_key=True)
    alert = models.ForeignKey(Alert, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=14, choices=StepKind)
    at = models.DateTimeField()
    by = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, null=True, related_name="+")
    entry = models.UUIDField(null=True, help_text="the entry with whose arrival it happened")
    text = models.CharField(max_length=2000, blank=True, help_text="what was done, or why an answer is taken back")

    FENCE: ClassVar = fenced(
        through(Via("checklists_alert", "alert_id"), Action.SEE_ALERTS),
        inserts=[through(ViaNewAlert(), Action.ACKNOWLEDGE_ALERT, *RECORDING)],
    )

    class Meta:
        constraints: ClassVar = [choice_check("alert_step_kind", "kind", StepKind)]


class Notice(models.Model):
    """News for one member of staff, on their pages within seconds and by e-mail. Made by the worker, once each."""

    id = models.BigAutoField(primary_key=True)
    staff = models.ForeignKey("clinic.Staff", on_delete=models.PROTECT, related_name="notices")
    episode = models.ForeignKey("caseload.Episode", on_delete=models.PROTECT, null=True, related_name="+")
    topic = models.CharField(max_length=60)
    severity = models.CharField(max_length=10, choices=Severity)
    subject_id = models.CharField(max_length=80, help_text="what to open")
    dedupe_key = models.CharField(max_length=200)
    made_at = models.DateTimeField()
    mailed_at = models.DateTimeField(null=True)
    read_at = models.DateTimeField(null=True)

    FENCE: ClassVar = fenced(through(Mine("staff_id")), updates=[through(Mine("staff_id"))])  # made by the worker

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["staff", "dedupe_key"], name="notice_once"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["staff", "-made_at"], name="notice_unread", condition=Q(read_at__isnull=True)),
        ]
