"""Something that is wrong with how a server is set up."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """A short code for programmes, and a sentence that says what is wrong and what to do. A warning stops nothing."""

    code: str
    sentence: str
    warning: bool = False

    def __str__(self) -> str:
        return self.sentence
