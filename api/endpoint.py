"""What every endpoint stands on: the actor, the instant, the shape that was sent, the page, the version."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, Protocol, TypeVar, cast
from uuid import UUID

from django.utils.translation import gettext as _
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.paging import page
from api.shapes import PageQuery, Written
from checklists.person.services import note_opened
from clinic import access, clock
from clinic.access import Action, standing
from clinic.errors import Refusal
from clinic.web.limits import count_for

if TYPE_CHECKING:
    from clinic.staff.models import Staff

T = TypeVar("T")

IF_MATCH = OpenApiParameter(
    "If-Match", str, OpenApiParameter.HEADER, required=True, description="the ETag of the state that you saw"
)


class PreconditionMissing(Refusal):
    """A change without If-Match (RFC 6585, 428)."""

    code = "precondition_required"
    status = 428


class Versioned(Protocol):
    """A row that was written."""

    @property
    def pk(self) -> UUID:
        """Which."""

    version: int


class Endpoint(APIView):
    """Parses, calls one service or selector, renders. Nothing else happens here."""

    limit = "api"  # what a call costs: a kind of settings.LIMITS

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """One instant for the whole request. Whose token it is shows only here: it is counted here, and
        from here on the database is asked as them."""
        self.at: datetime = clock.now()
        super().initial(request, *args, **kwargs)
        standing.stand(self.actor if request.user.is_authenticated else standing.NOBODY, self.at)
        if request.auth is not None:
            count_for(self.actor, self.limit, at=self.at)

    @property
    def actor(self) -> Staff:
        """Who asks."""
        return cast("Staff", self.request.user)

    def permit(self, action: Action) -> None:
        """Refuse a list to whoever has no right to any row of it: an empty list would say that there is none."""
        access.permit(self.actor, action, self.at)

    def opened(self, episode_id: UUID, what: str) -> None:
        """Account for showing something of a person. NotFound where they are not the caller's to see."""
        note_opened(actor=self.actor, episode_id=episode_id, page=f"api: {what}")

    def sent(self, form: type[serializers.Serializer[Any]]) -> dict[str, Any]:
        """The body as its shape makes it; a wrong one is refused field by field."""
        return self._checked(form(data=self.request.data))

    def asked(self, form: type[serializers.Serializer[Any]]) -> dict[str, Any]:
        """The query of a list as its shape makes it."""
        return self._checked(form(data=self.request.query_params))

    def listed(self, rows: Sequence[T], key: Callable[[T], object]) -> Response:
        """One page of a list."""
        wanted = self.asked(PageQuery)
        return Response(page(rows, key, limit=wanted["limit"], cursor=wanted.get("cursor")))

    def one(self, row: Any, *, version: int) -> Response:
        """One thing with the ETag of its version; 304 where the caller has it already (RFC 9110)."""
        tag = etag(version)
        known = {seen.strip().removeprefix("W/") for seen in self.request.headers.get("If-None-Match", "").split(",")}
        if tag in known or "*" in known:
            return Response(status=304, headers={"ETag": tag})
        return Response(row, headers={"ETag": tag})

    def written(self, row: Versioned, *, status: int = 200) -> Response:
        """What a change answers: the id, and the version as ETag."""
        return Response(Written(row.pk, row.version), status=status, headers={"ETag": etag(row.version)})

    def seen_version(self) -> int:
        """The version named by If-Match. A missing one is refused: a change says on what it was based."""
        tag = self.request.headers.get("If-Match", "").strip()
        if not tag:
            raise PreconditionMissing(
                _("Send If-Match with the ETag of what you saw, so that nobody's change is lost.")
            )
        bare = tag.strip('"')
        return int(bare) if bare.isascii() and bare.isdigit() and len(bare) < 10 else -1

    @staticmethod
    def _checked(form: serializers.Serializer[Any]) -> dict[str, Any]:
        form.is_valid(raise_exception=True)
        return cast("dict[str, Any]", form.validated_data)


def etag(version: int) -> str:
    """A strong entity tag for a version (RFC 9110)."""
    return f'"{version}"'
