"""The audit trail, read by the records officer; and the protocol by which everything is judged."""

from __future__ import annotations

from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from checklists.protocol.selectors import current_document
from clinic.audit.selectors import Wanted, trail_page


class TrailQuery(serializers.Serializer[dict[str, Any]]):
    """Which rows."""

    actor = serializers.UUIDField(required=False)
    about = serializers.CharField(required=False, default="", allow_blank=True, max_length=80)
    verb = serializers.CharField(required=False, default="", allow_blank=True, max_length=60)
    first = serializers.DateField(required=False)
    last = serializers.DateField(required=False)
    cursor = serializers.IntegerField(required=False, min_value=0, max_value=2**63 - 1)


class TrailRowShape(serializers.Serializer[Any]):
    """Who did or saw what, when and from where."""

    number = serializers.IntegerField()
    at = serializers.DateTimeField()
    actor = serializers.CharField(source="actor.name", default=None, allow_null=True)
    verb = serializers.CharField()
    subject = serializers.CharField()
    subject_id = serializers.CharField()
    episode = serializers.UUIDField(allow_null=True)
    origin = serializers.CharField()
    detail = serializers.DictField()


class Trail(Endpoint):
    """The audit trail."""

    limit = "search"

    @extend_schema(
        parameters=[TrailQuery],
        responses=inline_serializer(
            "TrailPage", {"items": TrailRowShape(many=True), "next": serializers.IntegerField(allow_null=True)}
        ),
    )
    def get(self, request: Request) -> Response:
        """Newest first."""
        wanted = self.asked(TrailQuery)
        before = wanted.pop("cursor", None)
        found = trail_page(self.actor, Wanted(**wanted, zone=self.actor.site.time_zone), at=self.at, before=before)
        rows = TrailRowShape(found.rows, many=True).data
        return Response({"items": rows, "next": int(found.older) if found.older else None})


class CurrentProtocol(Endpoint):
    """The protocol."""

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request) -> Response:
        """The document by which new episodes are judged (SEMANTICS.md §2)."""
        return Response(current_document(self.actor, at=self.at))
