"""What the pages share that ask for a second factor: the fields, the proof in them, and the passkey's challenge in the
session, where it waits for one answer."""

from __future__ import annotations

import json
from typing import Any

from django import forms
from django.conf import settings
from django.contrib.sessions.backends.base import SessionBase
from django.contrib.sessions.models import Session
from django.db import transaction
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from clinic import clock
from clinic.language.text import Text
from clinic.staff.factors import passkeys
from clinic.staff.factors.demo import code_now
from clinic.staff.factors.models import Kind, in_use
from clinic.staff.factors.passkeys import Answer, Asked, Place
from clinic.staff.factors.shown import Proof
from clinic.staff.models import Staff
from clinic.staff.sitting import present

ASKED, ASKED_NEW = "passkey_asked", "passkey_asked_new"
BOTH = gettext_lazy("Your password and a code, or a passkey.")
EITHER = gettext_lazy("One of them will do: you have shown both in this session already.")
CODE = gettext_lazy("Code of your second factor")
CODE_HELP = gettext_lazy("The six digits in your app now, or one of your recovery codes.")
DEMO_HELP = gettext_lazy("This is the demo, so the page says what the telephone would show:")


def place_of(request: HttpRequest) -> Place:
    """Where the browser stands. The host is one that the server answers to (ALLOWED_HOSTS)."""
    host = request.get_host()
    name = host.rsplit(":", 1)[0] if not host.endswith("]") else host
    return Place(host=name, origin=f"{request.scheme}://{host}", clinic=settings.CLINIC_NAME)


def remember_asked(request: HttpRequest, key: str, asked: Asked) -> dict[str, Any]:
    """Keep what was asked; returns what the browser needs."""
    for_browser, kept = asked
    request.session[key] = kept
    return for_browser


def answer_in(request: HttpRequest, text: str, key: str = ASKED) -> Answer | None:
    """The answer of a passkey in a posted field, with what had been asked. Each challenge is taken once."""
    if not text:
        return None
    asked = _taken(request.session, key)
    try:
        said = json.loads(text)
    except ValueError:
        said = {}
    return Answer(place_of(request), asked, said if isinstance(said, dict) else {})


def _taken(session: SessionBase, key: str) -> Any:
    """What was asked, out of the session for good. Of two requests at once only one finds it: each has read the session
    for itself, so it is taken from the row, under its lock, and not with the session's saving at the end."""
    asked = session.pop(key, None)
    with transaction.atomic():
        row = Session.objects.select_for_update().filter(pk=session.session_key).first()
        kept = row.get_decoded() if row is not None else {}
        if row is None or asked is None or kept.pop(key, None) != asked:
            return None
        row.session_data = session.encode(kept)
        row.save(update_fields=["session_data"])
    return asked


class OneOfSeveral(forms.CharField):
    """A field that may stay empty where another is filled in: never said to be optional."""

    either = True

    def __init__(self, **more: Any) -> None:
        super().__init__(**{"required": False, **more})


def code_field(label: Text = CODE, help_text: Text = CODE_HELP) -> OneOfSeveral:
    """A code as it is typed."""
    attrs = {"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}
    return OneOfSeveral(label=label, max_length=60, help_text=help_text, widget=forms.TextInput(attrs=attrs))


def password_field(label: Text) -> OneOfSeveral:
    """A password that somebody has."""
    attrs = {"autocomplete": "current-password", "data-shown": ""}
    return OneOfSeveral(label=label, strip=False, max_length=1000, widget=forms.PasswordInput(attrs=attrs))


class PasskeyField(forms.CharField):
    """What a passkey answered; a script fills it."""

    def __init__(self, **more: Any) -> None:
        super().__init__(required=False, max_length=20_000, widget=forms.HiddenInput, **more)


def said_in_demo(staff: Staff) -> str:
    """What the help of the code's field says in the demo; nothing elsewhere."""
    code = code_now(staff, clock.now())
    return f"{DEMO_HELP} {code}" if code else ""


def show_code_in_demo(field: forms.Field, staff: Staff) -> None:
    """In the demo the help of the field says the code."""
    if said := said_in_demo(staff):
        field.help_text = said
        field.widget.attrs["data-code-now"] = ""


class ProofForm(forms.Form):
    """Fields by which somebody who is signed in shows again who they are: as many as the present sitting asks for.

    `lead` says how many; `passkeys` says whether they have any here.
    """

    password = password_field(gettext_lazy("Your password"))
    one_time_code = code_field()
    passkey = PasskeyField()

    def __init__(self, request: HttpRequest, actor: Staff, *, change: bool = False, **more: Any) -> None:
        super().__init__(request.POST if request.method == "POST" else None, **more)
        self._request = request
        kinds = set(in_use(actor).values_list("kind", flat=True))
        sitting = present()
        self.short = not change and sitting is not None and sitting.all_shown(actor)
        self.has_factor, self.passkeys = bool(kinds), Kind.PASSKEY in kinds and place_of(request).fit
        self.lead = EITHER if self.short else BOTH if kinds else ""
        if not kinds:
            del self.fields["one_time_code"]
            self.fields["password"].required = True
        else:
            show_code_in_demo(self.fields["one_time_code"], actor)

    def proof(self) -> Proof:
        """What was given, once the form is valid."""
        said = self.cleaned_data
        passkey = answer_in(self._request, said.pop("passkey", ""))
        return Proof(said.pop("password", ""), said.pop("one_time_code", "").strip(), passkey)


def ask_one_of(request: HttpRequest, staff: Staff | None) -> dict[str, Any]:
    """Options for the browser: one of this person's passkeys, or whichever it has where nobody has come in."""
    known = []
    if staff is not None:
        rows = in_use(staff).filter(kind=Kind.PASSKEY).values_list("public_key", flat=True)
        known = [bytes(key) for key in rows if key]
    return remember_asked(request, ASKED, passkeys.ask(place_of(request), known))


def ask_for_new(request: HttpRequest, staff: Staff) -> dict[str, Any]:
    """Options for the browser: make a passkey for this person."""
    rows = in_use(staff).filter(kind=Kind.PASSKEY).values_list("public_key", flat=True)
    known = [bytes(key) for key in rows if key]
    asked = passkeys.ask_for_new(
        place_of(request), owner=staff.pk.bytes, username=staff.username, name=staff.name, known=known
    )
    return remember_asked(request, ASKED_NEW, asked)
