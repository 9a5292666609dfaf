"""Sessions of members of staff: of a browser, of a programme, of a colleague at the gym's tablet."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from clinic.access.assurance import Assurance
from clinic.staff.models import Site, Staff, choice_check


class Door(models.TextChoices):
    """Through which door a session began."""

    PAGE = "page", gettext_lazy("browser")
    TOKEN = "token", gettext_lazy("programme")


class Tablet(models.Model):
    """A tablet of the gym that a lead enrolled: on it, and nowhere else, a PIN opens recording. Revoked, never deleted.

    `secret` is the digest of what the device holds; a code for enrolling is good once, until `code_until`.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=60)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="tablets")
    added_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField()
    code = models.CharField(max_length=64, blank=True, help_text="digest of the code that enrols it")
    code_until = models.DateTimeField(null=True, blank=True)
    secret = models.CharField(max_length=64, blank=True, help_text="digest of what the device holds")
    enrolled_at = models.DateTimeField(null=True, blank=True)
    agent = models.CharField(max_length=80, blank=True, help_text="kind of device, as it says")
    seen_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by = models.ForeignKey(Staff, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    revoked_why = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["code"], name="tablet_code_once", condition=~Q(code="")),
            models.CheckConstraint(
                name="tablet_enrolled_holds_a_secret", condition=Q(enrolled_at__isnull=True) | ~Q(secret="")
            ),
        ]

    def __str__(self) -> str:
        return self.name


class Pin(models.Model):
    """The PIN of somebody who records at the gym's tablets. Wrong ones are counted here, whatever the device."""

    staff = models.OneToOneField(Staff, on_delete=models.PROTECT, primary_key=True, related_name="pin")
    digest = models.CharField(max_length=256)
    set_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    failures = models.PositiveSmallIntegerField(default=0, help_text="wrong ones in a row")
    locked_at = models.DateTimeField(null=True, help_text="until they sign in with their password")


class StaffSession(models.Model):
    """One session from its beginning to its end. It is good while it has not ended: every request asks here."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    staff = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="sessions")
    door = models.CharField(max_length=8, choices=Door)
    assurance = models.PositiveSmallIntegerField(help_text="clinic.access.assurance.Assurance")
    tablet = models.ForeignKey(Tablet, on_delete=models.PROTECT, null=True, related_name="sessions")
    token = models.CharField(max_length=128, blank=True, help_text="a programme's: digest of its token")
    began_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    address = models.CharField(max_length=45, blank=True)
    agent = models.CharField(max_length=80, blank=True, help_text="kind of device, as it says")
    ended_at = models.DateTimeField(null=True)
    ended_why = models.CharField(max_length=40, blank=True)

    class Meta:
        constraints: ClassVar = [
            choice_check("session_door", "door", Door),
            models.CheckConstraint(
                name="session_assurance", condition=Q(assurance__in=[one.value for one in Assurance])
            ),
            models.CheckConstraint(
                name="session_by_pin_on_a_tablet",
                condition=Q(assurance__gt=Assurance.PIN.value) | Q(tablet__isnull=False),
            ),
            models.UniqueConstraint(fields=["token"], name="session_of_token", condition=~Q(token="")),
        ]
        indexes: ClassVar = [
            models.Index(fields=["staff", "-seen_at"], name="session_of_staff"),
            models.Index(fields=["tablet"], name="session_on_tablet", condition=Q(ended_at__isnull=True)),
        ]
