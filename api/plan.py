"""The plan's side of an episode: pauses and transfer."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.shapes import Nothing, PageQuery, Written, page_of, shape
from caseload.episode.handover import Handed, handover
from caseload.episode.selectors import Plan, plan
from caseload.episode.services import pause_episode, resume_episode, transfer_episode


class PauseDays(serializers.Serializer[dict[str, Any]]):
    """Days on which an episode rests, and why."""

    reason = serializers.CharField(max_length=400)
    first_day = serializers.DateField(required=False)
    back_on = serializers.DateField(required=False)


class Transfer(serializers.Serializer[dict[str, Any]]):
    """Another site, and why."""

    site_id = serializers.UUIDField()
    reason = serializers.CharField(max_length=400)


class PlanOfEpisode(Endpoint):
    """The plan of an episode."""

    @extend_schema(responses=shape(Plan))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Person, site, knee, pauses."""
        self.opened(episode_id, "plan")
        found = plan(self.actor, episode_id, at=self.at)
        return self.one(found, version=found.version)


class Pauses(Endpoint):
    """Resting."""

    @extend_schema(request=PauseDays, responses={204: None})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Let an episode rest."""
        pause_episode(actor=self.actor, episode_id=episode_id, **self.sent(PauseDays))
        return Response(status=204)


class Resumption(Endpoint):
    """Going on."""

    @extend_schema(request=Nothing, responses={204: None})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """End the pause today."""
        resume_episode(actor=self.actor, episode_id=episode_id)
        return Response(status=204)


class Transfers(Endpoint):
    """Moving to another site."""

    @extend_schema(request=Transfer, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Transfer the episode."""
        version = self.seen_version()
        return self.written(
            transfer_episode(actor=self.actor, episode_id=episode_id, version=version, **self.sent(Transfer))
        )


class Handover(Endpoint):
    """What a covering colleague must know."""

    @extend_schema(parameters=[PageQuery], responses=page_of(Handed))
    def get(self, request: Request, staff_id: UUID) -> Response:
        """Every open episode that a colleague carries, with what is planned, due and asked."""
        return self.listed(handover(self.actor, staff_id, at=self.at), lambda row: row.episode_id)
