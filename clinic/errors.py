"""Refusals: what the programme says when it will not do a thing.

Each has a stable code for programmes, a sentence for people that says what to do, and the HTTP status by which both the
pages and the API answer. Details per field or per rule stand in `reasons`.
"""

from collections.abc import Sequence

from clinic.language.text import Text


class Refusal(Exception):
    """Something was asked for that will not be done. Nothing has been written."""

    code = "refused"
    status = 400

    def __init__(self, sentence: Text, *, code: str | None = None, reasons: Sequence[Text] = ()) -> None:
        super().__init__(sentence)
        self.sentence = str(sentence)  # in the language of whoever is refused, which is the one that is read now
        self.code = code or type(self).code
        self.reasons = tuple(str(reason) for reason in reasons)


class Invalid(Refusal):
    """What was sent does not make sense."""

    code = "invalid"
    status = 422


class NotFound(Refusal):
    """There is no such thing, or it is not this person's to know of. The two look the same from outside."""

    code = "not_found"
    status = 404


class Denied(Refusal):
    """It can be seen, but this is not theirs to do."""

    code = "denied"
    status = 403


class Conflict(Refusal):
    """It contradicts what stands already."""

    code = "conflict"
    status = 409


class Stale(Refusal):
    """Somebody else changed it meanwhile."""

    code = "stale"
    status = 412
