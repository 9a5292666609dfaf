"""Second factors of members of staff. What was removed stays as a row without its secret."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import ClassVar

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from clinic.staff.models import Staff, choice_check


class Kind(models.TextChoices):
    """What a factor is."""

    TOTP = "totp", gettext_lazy("one-time codes from an app")
    PASSKEY = "passkey", gettext_lazy("passkey")


class Factor(models.Model):
    """One second factor: an app that makes codes, or a passkey. In use until it is removed; the row stays."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    staff = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="factors")
    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=60, help_text="what its owner calls it")
    added_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    secret = models.BinaryField(null=True, help_text="sealed: clinic.staff.factors.vault")
    last_step = models.BigIntegerField(null=True, help_text="the time step of the last code: none up to it is good")
    failures = models.PositiveIntegerField(default=0, help_text="wrong codes in a row")
    credential_id = models.BinaryField(null=True)
    public_key = models.BinaryField(null=True, help_text="the passkey's attested credential data (WebAuthn)")
    uses = models.BigIntegerField(default=0, help_text="the passkey's own counter, where it keeps one")
    removed_at = models.DateTimeField(null=True)
    removed_by = models.ForeignKey(Staff, on_delete=models.PROTECT, null=True, related_name="+")
    removal_reason = models.CharField(max_length=400, blank=True)

    class Meta:
        constraints: ClassVar = [
            choice_check("factor_kind", "kind", Kind),
            models.UniqueConstraint(fields=["credential_id"], name="passkey_once"),
            models.CheckConstraint(
                name="factor_in_use_is_whole",
                condition=Q(removed_at__isnull=False, secret__isnull=True, public_key__isnull=True)
                | Q(removed_at__isnull=True, kind=Kind.TOTP, secret__isnull=False)
                | Q(removed_at__isnull=True, kind=Kind.PASSKEY, public_key__isnull=False, credential_id__isnull=False),
            ),
        ]
        indexes: ClassVar = [models.Index(fields=["staff"], name="factor_in_use", condition=Q(removed_at__isnull=True))]

    @property
    def about(self) -> str:
        """What its secret is sealed for."""
        return f"factor {self.pk} of {self.staff_id}"


class RecoveryCode(models.Model):
    """The digest of a code that opens once. Void when a new set was made."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    staff = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="recovery_codes")
    digest = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)
    void_at = models.DateTimeField(null=True)

    class Meta:
        indexes: ClassVar = [
            models.Index(
                fields=["staff"], name="recovery_good", condition=Q(used_at__isnull=True, void_at__isnull=True)
            )
        ]


def in_use(staff: Staff) -> models.QuerySet[Factor]:
    """The factors that somebody has."""
    return Factor.objects.filter(staff=staff, removed_at__isnull=True)


def good_codes(staff: Staff) -> models.QuerySet[RecoveryCode]:
    """The recovery codes that are still good."""
    return RecoveryCode.objects.filter(staff=staff, used_at__isnull=True, void_at__isnull=True)


def void_codes(staff: Staff, at: datetime) -> int:
    """Make every recovery code that is left worthless."""
    return good_codes(staff).update(void_at=at)
