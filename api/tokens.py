"""Tokens: how a programme signs in. The same lock-out and trail as at the sign-in page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from drf_spectacular.utils import extend_schema
from knox.models import AuthToken
from rest_framework import serializers
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import SessionToken
from api.endpoint import Endpoint
from api.shapes import Nothing, shape
from api.sign_offs import code_field, password_field
from clinic.access import Assurance
from clinic.errors import Denied
from clinic.staff import agents, sessions
from clinic.staff.factors.gate import FIRST
from clinic.staff.factors.policy import Moment, requires
from clinic.staff.sessions import sign_out
from clinic.staff.sign_in import sign_in


class SignIn(serializers.Serializer[dict[str, Any]]):
    """Who you are."""

    username = serializers.CharField(max_length=60)
    password = password_field()
    code = code_field()


@dataclass(frozen=True, slots=True)
class Token:
    """A token, told this once, and when it expires. Send it as `Authorization: Token …`."""

    token: str
    expires_at: datetime


@method_decorator(sensitive_post_parameters(), name="dispatch")
class Tokens(Endpoint):
    """Getting a token."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    @extend_schema(request=SignIn, responses={201: shape(Token)}, auth=[])
    def post(self, request: Request) -> Response:
        """Sign in."""
        come = sign_in(**self.sent(SignIn))
        staff = come.staff
        if staff.password_given_at is not None:
            raise Denied(
                _("Change the password that a clinic lead gave you on the page first: it is good for nothing else.")
            )
        if not come.shown.both and requires(staff.roles_on(self.at.date()), Moment.SIGN_IN):
            raise Denied(FIRST)
        made, token = AuthToken.objects.create(user=staff)
        agent = agents.kind_of_device(request.headers.get("User-Agent", ""))
        shown = Assurance.TWO_FACTORS if come.shown.both else Assurance.PASSWORD
        sessions.begin(staff, shown, at=self.at, agent=agent, token=made)
        return Response(Token(token, made.expiry), status=201)


class TokenInUse(Endpoint):
    """The token that this request came with."""

    authentication_classes = (SessionToken,)

    @extend_schema(request=Nothing, responses={204: None})
    def delete(self, request: Request) -> Response:
        """Sign out: the token is worth nothing from now on."""
        sign_out(self.actor)
        made: AuthToken = request.auth
        made.delete()
        return Response(status=204)
