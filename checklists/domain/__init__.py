"""The safety core: one meaning of the record for every surface. Pure: no framework, no clock, no input or output.

The contract is SEMANTICS.md in this folder; code and tests cite its sections.
"""

from .entry import Entry, same_content
from .errors import EntryRefused, ProtocolRefused
from .kinds import CHOICES, FIELDS, KINDS
from .protocol import Protocol, load_protocol
from .reading import parse_entry
from .rule import BUILTIN_RULES, BuiltinRule, Rule

__all__ = [
    "BUILTIN_RULES",
    "CHOICES",
    "FIELDS",
    "KINDS",
    "BuiltinRule",
    "Entry",
    "EntryRefused",
    "Protocol",
    "ProtocolRefused",
    "Rule",
    "load_protocol",
    "parse_entry",
    "same_content",
]
