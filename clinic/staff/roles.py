"""The roles of domain.md, and which of several a record is stamped with."""

from django.db import models
from django.utils.translation import gettext_lazy


class Role(models.TextChoices):
    """What a member of staff is to the clinic. The patient has no account."""

    CLINIC_LEAD = "clinic_lead", gettext_lazy("clinic lead")
    THERAPIST = "therapist", gettext_lazy("therapist")
    PROSTHETIST = "prosthetist", gettext_lazy("prosthetist")
    ASSISTANT = "assistant", gettext_lazy("assistant")
    RECORDS_OFFICER = "records_officer", gettext_lazy("records officer")


# Who has several roles is recorded under the one with the widest answer for what is done in the gym.
STAMP_ORDER = (Role.CLINIC_LEAD, Role.THERAPIST, Role.PROSTHETIST, Role.ASSISTANT)


class KneeFeature(models.TextChoices):
    """A feature of a mechanical knee for which staff are authorised one by one."""

    LOCK = "lock", gettext_lazy("manual lock")
    FREE_SWING = "free_swing", gettext_lazy("free-swing mode")
    YIELDING = "yielding", gettext_lazy("yielding")
