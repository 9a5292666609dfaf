"""Sites, staff, their roles and the credentials that expire."""

from __future__ import annotations

import unicodedata
import uuid
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import ArrayField, DateRangeField, RangeOperators
from django.db import models
from django.db.models import F, Q

from clinic.access.scope import Scope
from clinic.staff.roles import STAMP_ORDER, KneeFeature, Role


class Site(models.Model):
    """A place where the clinic sees people. Local days and printed times are in its zone."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=80, unique=True)
    time_zone = models.CharField(max_length=40, default="Europe/London")

    def __str__(self) -> str:
        return self.name


def name_key(username: str) -> str:
    """A sign-in name as it counts: two that look alike (case, width, composed letters) are one name."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", username).casefold()).strip()


def _as_typed(password: str | None) -> str | None:
    """A password as it counts (NIST SP 800-63B-4: normalised by NFKC)."""
    return unicodedata.normalize("NFKC", password) if password is not None else None


class StaffManager(BaseUserManager["Staff"]):
    """Looks members of staff up by their sign-in name, whatever its case."""

    def get_by_natural_key(self, username: str | None) -> Staff:
        """Whose sign-in name this is."""
        return self.get(username_key=name_key(username or ""))


class Staff(AbstractBaseUser):
    """A member of staff and their account. Never deleted, and `reference` is never given to anybody else."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    reference = models.CharField(max_length=20, unique=True, help_text="how the record names them, for ever")
    username = models.CharField(max_length=60, unique=True)
    username_key = models.CharField(max_length=120, unique=True, editable=False, help_text="name_key of the name")
    name = models.CharField(max_length=120)
    email = models.EmailField(blank=True)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="staff")
    minutes_per_week = models.PositiveIntegerField(default=0, help_text="time for people, not for the desk")
    language = models.CharField(
        max_length=10, blank=True, default="", help_text="a code of settings.LANGUAGES; empty: the browser's"
    )
    is_active = models.BooleanField(default=True)
    password_given_at = models.DateTimeField(
        null=True, blank=True, help_text="set while the password is one that a lead gave, to be changed at once"
    )
    wrong_passwords = models.PositiveIntegerField(default=0, help_text="in a row, since the last right or new one")
    identity_checked_at = models.DateTimeField(null=True, blank=True, help_text="without it they sign nothing")
    identity_checked_by = models.ForeignKey(
        "self",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="nobody: the server's keeper",
    )
    identity_check = models.CharField(max_length=400, blank=True, help_text="how it was checked, in words")
    let_in_by = ArrayField(
        models.UUIDField(),
        default=list,
        blank=True,
        help_text="who gave them a password or took a factor away since the last check: others make the next",
    )
    version = models.PositiveIntegerField(default=1)
    joined_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)

    USERNAME_FIELD = "username"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]
    objects: ClassVar[StaffManager] = StaffManager()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(
                name="identity_checked_by_another",
                condition=Q(identity_checked_by__isnull=True) | ~Q(identity_checked_by=F("id")),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Keep the key of the sign-in name with it."""
        self.username_key = name_key(self.username)
        super().save(*args, **kwargs)

    def set_password(self, raw_password: str | None) -> None:
        """Keep a password, however its letters were composed at the keyboard (NFKC); wrong ones count from nothing."""
        super().set_password(_as_typed(raw_password))
        self.wrong_passwords = 0

    def check_password(self, raw_password: str | None) -> bool:
        """Whether this is the password, however its letters were composed at the keyboard."""
        return super().check_password(_as_typed(raw_password))

    def roles_on(self, day: date) -> frozenset[Role]:
        """The roles that this person holds on a day. Asked once a day and instance."""
        cache: dict[date, frozenset[Role]] = self.__dict__.setdefault("_roles_on", {})
        if day not in cache:
            held = self.role_terms.filter(period__contains=day).values_list("role", flat=True)
            cache[day] = frozenset(Role(role) for role in held)
        return cache[day]

    def remember_roles(self, day: date, roles: Iterable[str]) -> None:
        """What the database has just said of a day, so that it is not asked again."""
        self.__dict__.setdefault("_roles_on", {})[day] = frozenset(Role(role) for role in roles)

    def stamped_role(self, day: date) -> str | None:
        """The role under which a fact of that day is recorded, or nothing where they had none in the gym."""
        held = self.roles_on(day)
        return next((str(role) for role in STAMP_ORDER if role in held), None)

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """Which members of staff lie in a scope of the actor's."""
        if scope is Scope.SITE:
            return Q(site_id=actor.site_id)
        return Q() if scope is Scope.ALL else Q(pk=actor.pk)


def one_at_a_time(name: str, *same: str) -> ExclusionConstraint:
    """No two rows with the same values of `same` and overlapping periods: refused by the database."""
    return ExclusionConstraint(
        name=name,
        expressions=[*((F(field), RangeOperators.EQUAL) for field in same), ("period", RangeOperators.OVERLAPS)],
    )


def choice_check(name: str, field: str, choices: type[models.TextChoices]) -> models.CheckConstraint:
    """The database knows the closed list too."""
    return models.CheckConstraint(name=name, condition=Q(**{f"{field}__in": choices.values}))


class RoleTerm(models.Model):
    """A role held for a period of days (upper end excluded; open = until further notice)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    staff = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="role_terms")
    role = models.CharField(max_length=20, choices=Role)
    period = DateRangeField()

    class Meta:
        constraints: ClassVar = [
            choice_check("role_term_role", "role", Role),
            one_at_a_time("role_term_once", "staff", "role"),
        ]

    @property
    def last_day(self) -> date | None:
        """The last day of it; None until further notice."""
        return self.period.upper - timedelta(days=1) if self.period.upper else None


class Registration(models.Model):
    """A professional registration with the day up to which it holds (that day included)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    staff = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="registrations")
    number = models.CharField(max_length=40)
    starts_on = models.DateField()
    expires_on = models.DateField()

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(name="registration_ends_after_start", condition=Q(expires_on__gte=F("starts_on"))),
        ]


class Authorisation(models.Model):
    """What a lead has authorised somebody to do with a knee feature, up to and including a day."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    staff = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="authorisations")
    feature = models.CharField(max_length=20, choices=KneeFeature)
    granted_by = models.ForeignKey(Staff, on_delete=models.PROTECT, related_name="authorisations_granted")
    starts_on = models.DateField()
    expires_on = models.DateField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints: ClassVar = [
            choice_check("authorisation_feature", "feature", KneeFeature),
            models.CheckConstraint(name="authorisation_ends_after_start", condition=Q(expires_on__gte=F("starts_on"))),
        ]


class SignInAttempt(models.Model):
    """A password that was tried and was not right, or is being looked at. Goes with the right one, or with time."""

    id = models.BigAutoField(primary_key=True)
    key = models.CharField(max_length=64, help_text="digest of the name")
    address = models.CharField(max_length=45, blank=True)
    at = models.DateTimeField()

    class Meta:
        indexes: ClassVar = [
            models.Index(fields=["key", "-at"], name="attempt_of_name"),
            models.Index(fields=["address", "-at"], name="attempt_from_address"),
            models.Index(fields=["at"], name="attempt_age"),
        ]
