"""The models of this app, each at home in its subject's folder."""

from checklists.adoption.models import Adoption
from checklists.alerts.models import Alert, AlertStep, Notice
from checklists.record.models import (
    Deadline,
    Entry,
    EntryContent,
    Head,
    HeldEntry,
    ProtocolVersion,
    RefusedEntry,
    SignedEvidence,
)

__all__ = [
    "Adoption",
    "Alert",
    "AlertStep",
    "Deadline",
    "Entry",
    "EntryContent",
    "Head",
    "HeldEntry",
    "Notice",
    "ProtocolVersion",
    "RefusedEntry",
    "SignedEvidence",
]
