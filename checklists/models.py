"""The models of this app, each at home in its subject's folder."""

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
