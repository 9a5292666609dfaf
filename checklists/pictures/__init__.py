"""Pictures of state: SVG text drawn on the server by pure functions, without style attributes or script.

Marks beside words are the shell's (clinic.web.marks). The drawings may stand in a page under a strict content security
policy. Looks come from classes (components.css); plain presentation attributes keep each readable without them.
"""

from checklists.pictures.knee import knee
from checklists.pictures.ministair import ministair, ministair_key
from checklists.pictures.staircase import staircase
from checklists.pictures.tread import Tread, ordered, treads
from checklists.pictures.words import WORDS, Words

__all__ = [
    "WORDS",
    "Tread",
    "Words",
    "knee",
    "ministair",
    "ministair_key",
    "ordered",
    "staircase",
    "treads",
]
