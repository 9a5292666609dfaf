"""The models of this app, each at home in its subject's folder."""

from caseload.assignment.models import Assignment, Cover
from caseload.emergency.models import EmergencyAccess
from caseload.episode.models import Episode, Pause
from caseload.load.models import LoadWeight
from caseload.person.models import Person, Weight
from caseload.prosthesis.models import Component, Prosthesis
from caseload.referral.models import Referral
from caseload.request.models import AdjustmentRequest
from caseload.review.models import PlannedReview, Reminder
from caseload.visit.models import Visit

__all__ = [
    "AdjustmentRequest",
    "Assignment",
    "Component",
    "Cover",
    "EmergencyAccess",
    "Episode",
    "LoadWeight",
    "Pause",
    "Person",
    "PlannedReview",
    "Prosthesis",
    "Referral",
    "Reminder",
    "Visit",
    "Weight",
]
