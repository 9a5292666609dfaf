"""What was set aside: refused entries, late facts that wait for a lead; and facts recorded on the wrong person."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.shapes import Nothing, PageQuery
from checklists.record.late import release_held, settle_refused, turn_away_held
from checklists.record.moving import move_entries
from checklists.record.selectors import held_entries, refused_entries
from clinic.access import Action


class RefusedShape(serializers.Serializer[Any]):
    """What was not taken, with the error."""

    id = serializers.UUIDField()
    episode_id = serializers.UUIDField(allow_null=True)
    sender = serializers.CharField(source="sender.name")
    received_at = serializers.DateTimeField()
    error = serializers.CharField()
    raw = serializers.CharField()
    urgent = serializers.BooleanField()


class HeldShape(serializers.Serializer[Any]):
    """A late fact that waits."""

    id = serializers.UUIDField()
    episode_id = serializers.UUIDField()
    sender = serializers.CharField(source="sender.name")
    received_at = serializers.DateTimeField()
    reason = serializers.CharField()
    raw = serializers.CharField()


class Move(serializers.Serializer[dict[str, Any]]):
    """Which facts belong to which other episode, and why."""

    to_episode = serializers.UUIDField()
    entry_ids = serializers.ListField(child=serializers.UUIDField(), min_length=1, max_length=1000)
    reason = serializers.CharField(max_length=400)


class MovedIds(serializers.Serializer[dict[str, Any]]):
    """The old id of each entry and its new one."""

    ids = serializers.DictField(child=serializers.CharField())


def _page(name: str, form: type[serializers.Serializer[Any]]) -> serializers.Serializer[Any]:
    made: serializers.Serializer[Any] = inline_serializer(
        name, {"items": form(many=True), "next": serializers.CharField(allow_null=True)}
    )
    return made


class RefusedEntries(Endpoint):
    """What was not taken."""

    @extend_schema(parameters=[PageQuery], responses=_page("RefusedPage", RefusedShape))
    def get(self, request: Request) -> Response:
        """A lead sees all of it, everybody else what they sent."""
        self.permit(Action.SEE_REFUSED)
        rows: list[Any] = list(RefusedShape(refused_entries(self.actor, at=self.at), many=True).data)
        return self.listed(rows, lambda row: row["id"])


class RefusedSettled(Endpoint):
    """A refused entry that was seen to."""

    @extend_schema(request=Nothing, responses={204: None})
    def post(self, request: Request, refused_id: UUID) -> Response:
        """It was recorded anew, or is not worth it."""
        settle_refused(actor=self.actor, refused_id=refused_id)
        return Response(status=204)


class HeldEntries(Endpoint):
    """Late facts that wait for a lead."""

    @extend_schema(parameters=[PageQuery], responses=_page("HeldPage", HeldShape))
    def get(self, request: Request) -> Response:
        """Oldest first."""
        self.permit(Action.RELEASE_LATE)
        rows: list[Any] = list(HeldShape(held_entries(self.actor, at=self.at), many=True).data)
        return self.listed(rows, lambda row: row["id"])


class HeldReleased(Endpoint):
    """Letting a late fact in."""

    @extend_schema(request=Nothing, responses={204: None})
    def post(self, request: Request, held_id: UUID) -> Response:
        """As its author sent it."""
        release_held(actor=self.actor, held_id=held_id)
        return Response(status=204)


class HeldTurnedAway(Endpoint):
    """Not letting a late fact in."""

    @extend_schema(request=Nothing, responses={204: None})
    def post(self, request: Request, held_id: UUID) -> Response:
        """It stays where it is."""
        turn_away_held(actor=self.actor, held_id=held_id)
        return Response(status=204)


class Moves(Endpoint):
    """Recorded on the wrong person."""

    @extend_schema(request=Move, responses=MovedIds)
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Struck out here, recorded anew there, or neither."""
        return Response({"ids": move_entries(actor=self.actor, from_episode=episode_id, **self.sent(Move)).ids})
