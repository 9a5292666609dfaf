"""The person: two identifiers, how they wish to be called, and whom to reach."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import ClassVar

from django.apps import apps
from django.db import models
from django.db.models import Q

from caseload.episode.reach import episodes_within, in_emergency
from clinic.access.fenced import READING, ByPerson, Via, fenced, through
from clinic.access.policy import Action
from clinic.access.scope import Scope
from clinic.staff.models import Staff


class Person(models.Model):
    """Somebody who learns, or waits to learn, to walk on a prosthesis here."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    number = models.CharField(max_length=20, unique=True, help_text="the clinic's own number")
    second_identifier = models.CharField(max_length=40, help_text="the number that the referrer knows them by")
    given_name = models.CharField(max_length=80)
    family_name = models.CharField(max_length=80)
    called = models.CharField(max_length=80, blank=True, help_text="as they wish to be called")
    pronoun = models.CharField(max_length=20, blank=True)
    born_on = models.DateField()
    language = models.CharField(max_length=35, default="en", help_text="BCP 47 tag")
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(blank=True)
    next_of_kin = models.CharField(max_length=200, blank=True)
    site = models.ForeignKey("clinic.Site", on_delete=models.PROTECT, related_name="+")
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True)
    erased_because = models.CharField(
        max_length=700, blank=True, default="", help_text="the legal ground, and the reason"
    )

    FENCE: ClassVar = fenced(
        through(ByPerson(), *READING, Action.TAKE_REFERRAL, Action.SEE_TRAIL, Action.SEE_KEEPING),
        writes=[through(ByPerson(), Action.EDIT_PERSON, Action.TAKE_REFERRAL)],
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(name="person_has_number", condition=~Q(number="")),
        ]

    @property
    def full_name(self) -> str:
        """As on the label of the folder."""
        return f"{self.called or self.given_name} {self.family_name}"

    @classmethod
    def within(cls, actor: Staff, scope: Scope, at: datetime) -> Q:
        """Persons in a scope: through their episodes, or, for who waits, through their site."""
        if scope is Scope.ALL:
            return Q()
        if scope is Scope.SITE:
            return Q(site_id=actor.site_id)
        return Q(pk__in=episodes_within(actor, scope, at).values("person_id"))

    @classmethod
    def in_emergency(cls, actor: Staff, at: datetime) -> Q:
        """The persons of the episodes that the actor may read by emergency access."""
        episodes = apps.get_model("caseload", "Episode").objects.filter(pk__in=in_emergency(actor, at))
        return Q(pk__in=episodes.values("person_id"))


class Weight(models.Model):
    """A body weight with the day on which it was measured, in kilograms."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="weights")
    kg = models.DecimalField(max_digits=5, decimal_places=1)
    measured_on = models.DateField()

    FENCE: ClassVar = fenced(
        through(Via("caseload_person", "person_id"), Action.SEE_PERSON),
        writes=[through(Via("caseload_person", "person_id", ByPerson()), Action.EDIT_PERSON)],
    )

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(name="weight_is_plausible", condition=Q(kg__gt=0, kg__lt=400)),
            models.UniqueConstraint(fields=["person", "measured_on"], name="weight_once_a_day"),
        ]
