"""What is written down about a person, apart from their weight."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonDetails:
    """The fields that somebody types. An empty number is filled with the clinic's next one when a person is added."""

    second_identifier: str
    given_name: str
    family_name: str
    born_on: date
    number: str = ""
    called: str = ""
    pronoun: str = ""
    language: str = "en"
    phone: str = ""
    email: str = ""
    address: str = ""
    next_of_kin: str = ""

    def fields(self) -> dict[str, object]:
        """Name → value, in the order in which a page asks for them."""
        names = (
            *("number", "second_identifier", "given_name", "family_name", "called", "pronoun", "born_on"),
            *("language", "phone", "email", "address", "next_of_kin"),
        )
        return {name: getattr(self, name) for name in names}
