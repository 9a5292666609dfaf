"""The models of this app, each at home in its subject's folder."""

from checklists.adoption.models import Adoption
from checklists.alerts.models import Alert, AlertStep, Notice
from checklists.judged.models import Difference, Tally
from checklists.keeping.models import (
    Archive,
    ArchiveFile,
    Erased,
    Erasure,
    ErasureDecision,
    LegalHold,
    Retention,
)
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
from checklists.sealed.models import SealedMark
from checklists.signoff.models import Signature

__all__ = [
    "Adoption",
    "Alert",
    "AlertStep",
    "Archive",
    "ArchiveFile",
    "Deadline",
    "Difference",
    "Entry",
    "EntryContent",
    "Erased",
    "Erasure",
    "ErasureDecision",
    "Head",
    "HeldEntry",
    "LegalHold",
    "Notice",
    "ProtocolVersion",
    "RefusedEntry",
    "Retention",
    "SealedMark",
    "Signature",
    "SignedEvidence",
    "Tally",
]
