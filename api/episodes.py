"""Episodes: the board, the list, where one stands and why, its staircase, its facts in time."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.shapes import PageQuery, page_of, shape
from caseload.episode.selectors import Plan, plan
from checklists.board.selectors import board_json
from checklists.person.selectors import Listed, people, standing_of
from checklists.person.timeline import timeline
from checklists.pictures import Tread
from clinic.access import Action


class PeopleQuery(PageQuery):
    """Whom to look for: by name, number or second identifier."""

    text = serializers.CharField(required=False, default="", allow_blank=True, max_length=120)
    closed = serializers.BooleanField(default=False)


class FactsQuery(serializers.Serializer[dict[str, Any]]):
    """Where the page begins."""

    cursor = serializers.CharField(required=False, default="", allow_blank=True, max_length=80)


class Standing(serializers.Serializer[dict[str, Any]]):
    """Where an episode stands: every skill's status with reasons, the knees, what is next, what is checked first."""

    plan = shape(Plan)()
    protocol = serializers.CharField()
    board = serializers.DictField()


class FactInTime(serializers.Serializer[dict[str, Any]]):
    """One fact in words. `struck`: why and by whom it was struck out, where it was."""

    entry = serializers.UUIDField()
    at = serializers.DateTimeField()
    head = serializers.CharField()
    detail = serializers.CharField()
    by = serializers.CharField()
    door = serializers.CharField()
    received_at = serializers.DateTimeField()
    note = serializers.CharField()
    struck = serializers.CharField()


class Board(Endpoint):
    """The board."""

    @extend_schema(responses={200: OpenApiTypes.OBJECT})
    def get(self, request: Request) -> HttpResponse:
        """Everybody within the caller's reach with statuses, knees, alerts and what is due, in one answer."""
        return HttpResponse(board_json(self.actor, at=self.at), content_type="application/json")


class EpisodeList(Endpoint):
    """Episodes by person."""

    @extend_schema(parameters=[PeopleQuery], responses=page_of(Listed))
    def get(self, request: Request) -> Response:
        """Who is taught here, within the caller's reach."""
        self.permit(Action.SEE_PERSON)
        wanted = self.asked(PeopleQuery)
        rows = people(self.actor, wanted["text"], at=self.at, closed=wanted["closed"])
        return self.listed(rows, lambda row: row.episode_id)


class OneEpisode(Endpoint):
    """One episode."""

    @extend_schema(responses=Standing)
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Where it stands now. Opening it leaves a row in the trail."""
        head = plan(self.actor, episode_id, at=self.at)
        standing = standing_of(episode_id, at=self.at)
        self.opened(episode_id, "episode")
        said = {**standing.board, "skills": standing.skills}
        return Response({"plan": head, "protocol": standing.protocol.reference, "board": said})


class Staircase(Endpoint):
    """The staircase of an episode."""

    @extend_schema(parameters=[PageQuery], responses=page_of(Tread))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Every skill a tread, in climbing order, with its rungs, status and reasons."""
        head = plan(self.actor, episode_id, at=self.at)
        self.opened(episode_id, "staircase")
        treads = standing_of(episode_id, at=self.at).treads(both=head.side == "both")
        return self.listed(treads, lambda tread: tread.key)


class Facts(Endpoint):
    """What was recorded, in words."""

    @extend_schema(
        parameters=[FactsQuery],
        responses=inline_serializer(
            "FactPage", {"items": FactInTime(many=True), "next": serializers.CharField(allow_null=True)}
        ),
    )
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Newest first; what was struck out stays, with the reason."""
        self.opened(episode_id, "facts")
        found = timeline(episode_id, before=self.asked(FactsQuery)["cursor"])
        plain = ("entry", "at", "by", "door", "received_at", "note", "struck")
        rows = [
            {name: getattr(line, name) for name in plain}
            | {"head": str(line.told.head), "detail": str(line.told.detail)}
            for line in found.rows
        ]
        return Response({"items": rows, "next": found.older or None})
