"""Words for people, in the reader's language. The record keeps English: these stand at the edge, where somebody reads.

`said(sentence)`: a sentence of the core, the record or a protocol. `Spoken`: a table of words in their language.
"""

from checklists.words.sentences import said
from checklists.words.spoken import Spoken, SpokenPairs, pgettext_noop

__all__ = ["Spoken", "SpokenPairs", "pgettext_noop", "said"]
