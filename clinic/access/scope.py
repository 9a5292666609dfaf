"""How far a permission reaches."""

from enum import StrEnum


class Scope(StrEnum):
    """Own: the caseload assigned and the covers in force. Site: everybody at one's site. All: the whole clinic."""

    OWN = "own"
    SITE = "site"
    ALL = "all"
