"""Adjustment requests: asked, seen, declined. A change that answers one is a fact: see `api.settings_changed`."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.referrals import Why
from api.shapes import Nothing, PageQuery, Written, page_of, shape
from caseload.request.selectors import Asked, open_requests, requests_of_episode
from caseload.request.services import ask_adjustment, decline_request, reword_request, see_request
from clinic.access import Action

SETTINGS = ["resistance", "alignment", "socket", "foot", "knee", "footwear"]


class Ask(serializers.Serializer[dict[str, Any]]):
    """What should be changed, and why."""

    setting = serializers.ChoiceField(choices=SETTINGS)
    text = serializers.CharField(max_length=4000)


class Requests(Endpoint):
    """The queue of the bench."""

    @extend_schema(parameters=[PageQuery], responses=page_of(Asked))
    def get(self, request: Request) -> Response:
        """Open requests within the caller's reach, the oldest first."""
        self.permit(Action.SEE_REQUESTS)
        return self.listed(open_requests(self.actor, at=self.at), lambda row: row.request_id)


class RequestsOfEpisode(Endpoint):
    """Requests about an episode."""

    @extend_schema(parameters=[PageQuery], responses=page_of(Asked))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Every one, newest first."""
        self.opened(episode_id, "requests")
        return self.listed(requests_of_episode(self.actor, episode_id, at=self.at), lambda row: row.request_id)

    @extend_schema(request=Ask, responses={201: shape(Written)})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Ask for a change."""
        return self.written(ask_adjustment(actor=self.actor, episode_id=episode_id, **self.sent(Ask)), status=201)


class OneRequest(Endpoint):
    """One request."""

    @extend_schema(request=Ask, responses=shape(Written), parameters=[IF_MATCH])
    def put(self, request: Request, request_id: UUID) -> Response:
        """Change what is asked, as long as nobody has answered."""
        version = self.seen_version()
        return self.written(reword_request(actor=self.actor, request_id=request_id, version=version, **self.sent(Ask)))


class RequestSeen(Endpoint):
    """The bench has read it."""

    @extend_schema(request=Nothing, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, request_id: UUID) -> Response:
        """Say that the bench will see to it."""
        return self.written(see_request(actor=self.actor, request_id=request_id, version=self.seen_version()))


class RequestDeclined(Endpoint):
    """An answer without a change."""

    @extend_schema(request=Why, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, request_id: UUID) -> Response:
        """Decline, with the reason."""
        version = self.seen_version()
        return self.written(decline_request(actor=self.actor, request_id=request_id, version=version, **self.sent(Why)))
