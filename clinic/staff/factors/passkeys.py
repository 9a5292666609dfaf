"""Passkeys (WebAuthn): asking for one and checking the answer, by the fido2 library.

User verification is always required: a passkey with it is two factors in one, something held and something known or
borne. The challenge lies in the session on this server and is good for one answer. Passkeys belong to the host name
under which they were made.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from fido2.server import Fido2Server
from fido2.webauthn import (
    AttestedCredentialData,
    AuthenticationResponse,
    PublicKeyCredentialRpEntity,
    PublicKeyCredentialUserEntity,
    RegistrationResponse,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from clinic.errors import Refusal

_NEEDED = UserVerificationRequirement.REQUIRED


class WrongPasskey(Refusal):
    """The answer of a passkey does not hold."""

    code = "wrong_passkey"
    status = 403


@dataclass(frozen=True, slots=True)
class Place:
    """Where the browser stands: the host name and the origin that passkeys are bound to."""

    host: str
    origin: str
    clinic: str

    @property
    def fit(self) -> bool:
        """Whether browsers make passkeys here: a name, not a number, and over HTTPS or on this machine."""
        try:
            ipaddress.ip_address(self.host.strip("[]"))
        except ValueError:
            return self.origin.startswith("https://") or self.host == "localhost"
        return False

    def server(self) -> Fido2Server:
        """The library's server for this place; an answer from any other origin is none."""
        party = PublicKeyCredentialRpEntity(id=self.host, name=self.clinic)
        return Fido2Server(party, verify_origin=lambda origin: origin == self.origin)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a passkey answered, and what it had been asked."""

    place: Place
    asked: Mapping[str, Any] | None
    said: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Fresh:
    """A passkey that was just made."""

    credential_id: bytes
    public_key: bytes
    uses: int


Asked = tuple[dict[str, Any], dict[str, Any]]  # for the browser; for the session


def ask_for_new(place: Place, *, owner: bytes, username: str, name: str, known: Sequence[bytes]) -> Asked:
    """Ask for a new passkey; those that are known already are not made twice."""
    user = PublicKeyCredentialUserEntity(id=owner, name=username, display_name=name)
    options, asked = place.server().register_begin(
        user,
        [AttestedCredentialData(one) for one in known],
        resident_key_requirement=ResidentKeyRequirement.PREFERRED,
        user_verification=_NEEDED,
    )
    return dict(options), asked


def made(answer: Answer) -> Fresh:
    """The passkey that was made; WrongPasskey where the answer does not hold."""
    if answer.asked is None:
        raise WrongPasskey(_("That took too long. Try again."))
    try:
        said = RegistrationResponse.from_dict(answer.said)
        data = answer.place.server().register_complete(answer.asked, said)
    except Exception as fault:  # the library raises whatever its parsers meet; none of it is anybody's passkey
        raise WrongPasskey(_("The browser's answer does not hold. Nothing was added.")) from fault
    found = data.credential_data
    if found is None:
        raise WrongPasskey(_("The browser's answer has no key in it. Nothing was added."))
    return Fresh(found.credential_id, bytes(found), data.counter)


def ask(place: Place, known: Sequence[bytes]) -> Asked:
    """Ask for one of these passkeys, or for whichever the browser has for this place where none is named."""
    credentials = [AttestedCredentialData(one) for one in known] or None
    options, asked = place.server().authenticate_begin(credentials, user_verification=_NEEDED)
    return dict(options), asked


def credential_in(answer: Answer) -> bytes:
    """Which passkey claims to answer."""
    try:
        return bytes(AuthenticationResponse.from_dict(answer.said).raw_id)
    except Exception as fault:  # see `made`
        raise WrongPasskey(_("The browser's answer does not hold. Nothing was done.")) from fault


def counter_of(answer: Answer, public_key: bytes) -> int:
    """Check the answer against the passkey's key; returns its counter. WrongPasskey where it does not hold."""
    if answer.asked is None:
        raise WrongPasskey(_("That took too long. Try again."))
    try:
        said = AuthenticationResponse.from_dict(answer.said)
        answer.place.server().authenticate_complete(answer.asked, [AttestedCredentialData(public_key)], said)
    except Exception as fault:  # see `made`
        raise WrongPasskey(_("The browser's answer does not hold. Nothing was done.")) from fault
    return said.response.authenticator_data.counter
