"""What the frame of every page shows: the ways open to who is signed in, who that is, and where news comes from."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import TYPE_CHECKING

from django.conf import settings
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext_lazy

from clinic import access, clock
from clinic.access import Action, Assurance, assurance
from clinic.language import tags
from clinic.language.text import Text
from clinic.ledger import sealing
from clinic.watch import selectors as watch
from clinic.watch.selectors import Banner
from clinic.web import entrance, kept, tablet

if TYPE_CHECKING:
    from clinic.staff.models import Staff


@dataclass(frozen=True, slots=True)
class Way:
    """A page of the main navigation: its address by name, and the action without which nobody goes there."""

    name: str
    title: Text
    action: Action
    tally: bool = False


@dataclass(frozen=True, slots=True)
class Language:
    """A language that the pages can be in, by its own name."""

    code: str
    name: str
    here: bool

    @classmethod
    def present(cls) -> Language:
        """The one that is read now."""
        return cls(tags.present(), "", here=True)

    @property
    def tag(self) -> str:
        """As `lang` says it."""
        return tags.written(self.code)

    @property
    def direction(self) -> str:
        """As `dir` says it."""
        return tags.direction(self.code)


@dataclass(frozen=True, slots=True)
class Place:
    """A way that is open to who is signed in."""

    title: str
    address: str
    here: bool
    tally: bool


WAYS = (
    Way("caseload", gettext_lazy("Caseload"), Action.SEE_CASELOAD),
    Way("today", gettext_lazy("Today"), Action.RECORD),
    Way("bench", gettext_lazy("Bench"), Action.ANSWER_ADJUSTMENT),
    Way("people", gettext_lazy("People"), Action.SEE_PERSON),
    Way("alerts", gettext_lazy("Alerts"), Action.SEE_ALERTS, tally=True),
    Way("staff", gettext_lazy("Staff"), Action.SEE_STAFF),
    Way("trail", gettext_lazy("Trail"), Action.SEE_TRAIL),
    Way("keeping", gettext_lazy("Retention & requests"), Action.SEE_KEEPING),
    Way("proof", gettext_lazy("Proof"), Action.EXPORT_RECORD),
    Way("protocol", gettext_lazy("Protocol"), Action.SEE_PROTOCOL),
    Way("watch", gettext_lazy("Server"), Action.SEE_WATCH),
)


def address_of(name: str) -> str:
    """The address of a named page, or nothing where no app has it."""
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


def first_page(actor: Staff, at: datetime) -> str:
    """Where somebody begins: the first page that their roles open, or their own password page where none does."""
    open_ways = (address_of(way.name) for way in WAYS if access.reach(actor, way.action, at))
    return next(filter(None, open_ways), reverse("password"))


class Shell:
    """Worked out only as far as a page asks for it, so that an error page need not touch the database."""

    def __init__(self, request: HttpRequest) -> None:
        self._request = request
        self.clinic, self.telephone = settings.CLINIC_NAME, settings.CLINIC_TELEPHONE
        self.demo = settings.DEMO

    @cached_property
    def languages(self) -> list[Language]:
        """The languages to choose from."""
        return [Language(code, name, code == tags.present()) for code, name in tags.choices()]

    @property
    def language(self) -> Language:
        """The one that is read now."""
        return Language.present()

    @property
    def words(self) -> str:
        """The catalogue of the scripts, as a static file; nothing where they speak English by themselves."""
        code = tags.present()
        return "" if code == settings.LANGUAGE_CODE else f"clinic/words/{code}.js"

    @cached_property
    def _actor(self) -> Staff | None:
        user = getattr(self._request, "user", None)
        return user if user is not None and user.is_authenticated else None

    @cached_property
    def who(self) -> str:
        """The name of who is signed in."""
        return self._actor.name if self._actor else ""

    @cached_property
    def reference(self) -> str:
        """The reference of who is signed in: for whom the page's scripts speak."""
        return self._actor.reference if self._actor else ""

    @property
    def sealing_key(self) -> str:
        """The key for which this device seals what it cannot send."""
        return sealing.public_key()

    @cached_property
    def revoked(self) -> bool:
        """Whether this device is a tablet that a lead has revoked."""
        return tablet.is_revoked(self._request)

    @property
    def by_pin(self) -> bool:
        """Whether they came in with a PIN, for recording only."""
        return self._actor is not None and assurance.shown() is Assurance.PIN

    @property
    def on_tablet(self) -> bool:
        """Whether they stand at a tablet of the gym's, to be handed over."""
        session = entrance.session_of(self._request)
        return session is not None and session.tablet is not None

    @cached_property
    def roles(self) -> str:
        """Their roles today, in words."""
        if self._actor is None:
            return ""
        return ", ".join(sorted(str(role.label) for role in self._actor.roles_on(clock.now().date())))

    @cached_property
    def places(self) -> list[Place]:
        """The pages open to them, with the present one marked."""
        if self._actor is None:
            return []
        at, path = clock.now(), self._request.path
        found = [(way, address_of(way.name)) for way in WAYS if access.reach(self._actor, way.action, at)]
        return [
            Place(str(way.title), address, path == address or (address != "/" and path.startswith(address)), way.tally)
            for way, address in found
            if address
        ]

    @cached_property
    def banner(self) -> Banner | None:
        """What the watch has to say on every page."""
        return watch.banner(self._actor, clock.now())

    @cached_property
    def home(self) -> str:
        """Where the clinic's name leads."""
        return self.places[0].address if self.places else "/"

    @cached_property
    def tally_address(self) -> str:
        """Where the number of open alerts is asked for."""
        return address_of("alerts_tally") if any(place.tally for place in self.places) else ""

    @cached_property
    def kept(self) -> kept.Kept | None:
        """A form that was filled in and could not be taken because the session had ended."""
        return kept.waiting(self._request) if self._actor else None

    @property
    def kept_stood_here(self) -> bool:
        """Whether this is the page on which it was filled in."""
        return self.kept is not None and self._request.get_full_path() == self.kept.page


def shell(request: HttpRequest) -> dict[str, Shell]:
    """Context processor: `shell` in every template."""
    return {"shell": Shell(request)}
