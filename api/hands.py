"""Who carries an episode and who stands in."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.referrals import Why
from api.shapes import Nothing, Written, shape
from caseload.assignment.cover import arrange_cover, end_cover
from caseload.assignment.selectors import Hands, hands
from caseload.assignment.services import assign, end_assignment, reassign


class Assign(serializers.Serializer[dict[str, Any]]):
    """A therapist for an episode that has none."""

    staff_id = serializers.UUIDField()
    reason = serializers.CharField(max_length=400, required=False, default="", allow_blank=True)


class Reassign(serializers.Serializer[dict[str, Any]]):
    """Another therapist. `standing_id` and `version` are of the assignment that you saw; with `move_visits` the
    sessions booked with the one who carried go along."""

    staff_id = serializers.UUIDField()
    standing_id = serializers.UUIDField(allow_null=True)
    version = serializers.IntegerField(allow_null=True, min_value=0, max_value=2**31 - 1)
    reason = serializers.CharField(max_length=400)
    move_visits = serializers.BooleanField(required=False, default=False)


class CoverDays(serializers.Serializer[dict[str, Any]]):
    """Days of a leave, both included: for one episode, or for all that a colleague who is away carries.

    Whoever is away themselves on one of them is refused unless `although_away` says that it is meant. Where a cover of
    the same person ended within today, one whose first day is today begins at that end, or now where that is later.
    """

    staff_id = serializers.UUIDField()
    first_day = serializers.DateField()
    last_day = serializers.DateField()
    reason = serializers.CharField(max_length=400, required=False, default="", allow_blank=True)
    episode_id = serializers.UUIDField(required=False)
    away_id = serializers.UUIDField(required=False)
    although_away = serializers.BooleanField(required=False, default=False)


class HandsOfEpisode(Endpoint):
    """Everybody who carries or covers an episode."""

    @extend_schema(responses=shape(Hands))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Assignments and covers, past and to come."""
        self.opened(episode_id, "hands")
        return Response(hands(self.actor, episode_id, at=self.at))


class Assignments(Endpoint):
    """Giving an episode to a therapist."""

    @extend_schema(request=Assign, responses={201: shape(Written)})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Assign from now on. Refused where somebody carries it already."""
        return self.written(assign(actor=self.actor, episode_id=episode_id, **self.sent(Assign)), status=201)


class Reassignment(Endpoint):
    """Moving an episode to another therapist."""

    @extend_schema(request=Reassign, responses={201: shape(Written)})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Move now: one assignment ends and the next begins at the same instant."""
        return self.written(reassign(actor=self.actor, episode_id=episode_id, **self.sent(Reassign)), status=201)


class AssignmentEnd(Endpoint):
    """Taking an episode from its therapist."""

    @extend_schema(request=Why, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, assignment_id: UUID) -> Response:
        """End an assignment now without giving the episode to another yet."""
        version = self.seen_version()
        return self.written(
            end_assignment(actor=self.actor, assignment_id=assignment_id, version=version, **self.sent(Why))
        )


class Covers(Endpoint):
    """Standing in."""

    @extend_schema(request=CoverDays, responses={201: shape(Written)(many=True)})
    def post(self, request: Request) -> Response:
        """Arrange cover for the days of a leave: all or nothing."""
        made = arrange_cover(actor=self.actor, **self.sent(CoverDays))
        return Response([Written(row.pk, row.version) for row in made], status=201)


class CoverEnd(Endpoint):
    """Ending a cover."""

    @extend_schema(request=Nothing, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, cover_id: UUID) -> Response:
        """End a cover now, or strike one that has not begun."""
        return self.written(end_cover(actor=self.actor, cover_id=cover_id, version=self.seen_version()))
