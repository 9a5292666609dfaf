"""What the safety core refuses, and how it says so."""


class ProtocolRefused(ValueError):
    """A protocol document was refused (SEMANTICS.md §2). `place` says where, such as `skills[3].proven.support`."""

    def __init__(self, place: str, reason: str) -> None:
        super().__init__(f"{place}: {reason}")
        self.place = place
        self.reason = reason


class EntryRefused(ValueError):
    """An entry was refused by itself (SEMANTICS.md §1). The text begins with the field at fault and a colon."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(f"{field}: {reason}")
        self.field = field
        self.reason = reason
