"""The models of this app, each at home in its subject's folder."""

from clinic.audit.models import TrailRow
from clinic.ledger.models import Checkpoint, LedgerGap, LedgerLeaf, LedgerNode
from clinic.outbox.models import OutboxRow
from clinic.staff.factors.models import Factor, RecoveryCode
from clinic.staff.models import Authorisation, Registration, RoleTerm, SignInAttempt, Site, Staff
from clinic.staff.move_models import SiteMove
from clinic.staff.review.models import AccountReview
from clinic.staff.session_models import Pin, StaffSession, Tablet
from clinic.watch.models import Alarm, Beat

__all__ = [
    "AccountReview",
    "Alarm",
    "Authorisation",
    "Beat",
    "Checkpoint",
    "Factor",
    "LedgerGap",
    "LedgerLeaf",
    "LedgerNode",
    "OutboxRow",
    "Pin",
    "RecoveryCode",
    "Registration",
    "RoleTerm",
    "SignInAttempt",
    "Site",
    "SiteMove",
    "Staff",
    "StaffSession",
    "Tablet",
    "TrailRow",
]
