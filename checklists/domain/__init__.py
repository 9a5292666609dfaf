"""The safety core: one meaning of the record for every surface. Pure: no framework, no clock, no input or output.

The contract is SEMANTICS.md in this folder; code and tests cite its sections. Where things are:

- a document: places, document, rule, formula, atom, vocabulary → protocol; what follows from it once: compiled, plan
- an entry: kinds, instant, entry_check, entry, reading, reader (many and fast); what many share: shape, facts
- a record: record (order, openings, strike-outs, refusals), replay (lines in, reports out)
- the rules over it: nodes, phase, hard, quick → program; monitor (a sequence of entries), deadline, builtin
- the fold: fold (the state), steps (what each kind does to it), knee
- an episode: course (one step) → episode (what is asked of it); reasons, advice, counted, words
"""

from .advice import Advice, Broken, CheckFirst, Step
from .counted import Counted
from .course import Alert
from .deadline import Deadline
from .document import bars, in_bars
from .entry import Entry, same_content
from .episode import Episode, Replayed, StaleSnapshot
from .errors import EntryRefused, ProtocolRefused
from .kinds import CHOICES, FIELDS, KINDS
from .knee import MODE_CHECKS, KneeState
from .protocol import Protocol, load_protocol
from .reading import parse_entry
from .reasons import SkillStatus
from .record import Refused
from .rule import BUILTIN_RULES, BuiltinRule, Rule

__all__ = [
    "BUILTIN_RULES",
    "CHOICES",
    "FIELDS",
    "KINDS",
    "MODE_CHECKS",
    "Advice",
    "Alert",
    "Broken",
    "BuiltinRule",
    "CheckFirst",
    "Counted",
    "Deadline",
    "Entry",
    "EntryRefused",
    "Episode",
    "KneeState",
    "Protocol",
    "ProtocolRefused",
    "Refused",
    "Replayed",
    "Rule",
    "SkillStatus",
    "StaleSnapshot",
    "Step",
    "bars",
    "in_bars",
    "load_protocol",
    "parse_entry",
    "same_content",
]
