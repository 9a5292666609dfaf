"""Who comes with a token, in which session, and how they had shown who they are when they got it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils.translation import gettext as _
from knox.auth import TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed

from clinic import clock
from clinic.access import Assurance, assurance
from clinic.staff import sessions
from clinic.staff.factors.gate import FIRST, must_add_one

if TYPE_CHECKING:
    from knox.models import AuthToken

    from clinic.staff.models import Staff


class SessionToken(TokenAuthentication):  # type: ignore[misc]  # knox has no types
    """A token is good while its session is: ended by its owner, by a lead or with the account, it opens nothing.

    What was shown holds for this request: the middleware of the pages, which stands around, puts back what was before.
    """

    def validate_user(self, auth_token: AuthToken) -> tuple[Staff, AuthToken]:
        """Whose it is, and the token."""
        staff, token = super().validate_user(auth_token)
        session = sessions.of_token(token)
        if session is None:
            raise AuthenticationFailed(_("This token's session has ended. Sign in again."))
        sessions.come_to(session)
        sessions.note_use(session, clock.now())
        assurance.come_in(Assurance(session.assurance))
        if must_add_one(staff, clock.now()):
            raise AuthenticationFailed(FIRST)
        return staff, token
