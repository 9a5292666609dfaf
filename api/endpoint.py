"""What every endpoint stands on: the actor, the instant, the shape that was sent."""

from __future__ import annotations

from datetime import datetime
from typing import Any, cast

from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.views import APIView

from clinic import clock
from clinic.errors import Refusal
from clinic.staff.models import Staff

IF_MATCH = OpenApiParameter(
    "If-Match", str, OpenApiParameter.HEADER, required=True, description="the ETag of the state that you saw"
)


class PreconditionMissing(Refusal):
    """A change without If-Match (RFC 6585, 428)."""

    code = "precondition_required"
    status = 428


class Endpoint(APIView):
    """Parses, calls one service or selector, renders. Nothing else happens here."""

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """One instant for the whole request."""
        self.at: datetime = clock.now()
        super().initial(request, *args, **kwargs)

    @property
    def actor(self) -> Staff:
        """Who asks."""
        return cast("Staff", self.request.user)

    def sent(self, shape: type[serializers.Serializer[Any]], **more: Any) -> dict[str, Any]:
        """The body, or the query of a GET, as its shape makes it; a wrong one is refused field by field."""
        source = self.request.query_params if self.request.method == "GET" else self.request.data
        form = shape(data=source, **more)
        form.is_valid(raise_exception=True)
        return cast("dict[str, Any]", form.validated_data)

    def seen_version(self) -> int:
        """The version named by If-Match. A missing one is refused: a change says on what it was based."""
        tag = self.request.headers.get("If-Match", "").strip()
        if not tag:
            raise PreconditionMissing("Send If-Match with the ETag of what you saw, so that nobody's change is lost.")
        return int(tag.strip('"')) if tag.strip('"').isdigit() else -1


def etag(version: int) -> str:
    """A strong entity tag for a version (RFC 9110)."""
    return f'"{version}"'
