"""Planned sessions."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.shapes import PageQuery, Written, page_of, shape
from caseload.visit.selectors import Planned, visits_of_day, visits_of_episode
from caseload.visit.services import plan_visits, set_visit_state
from clinic import clock
from clinic.access import Action

STATES = ["planned", "came", "missed", "cancelled"]


class DayQuery(PageQuery):
    """Which day, by the clocks of the caller's site; at which site, with whom. Today where no day is named."""

    day = serializers.DateField(required=False)
    site_id = serializers.UUIDField(required=False)
    staff_id = serializers.UUIDField(required=False)


class NewVisits(serializers.Serializer[dict[str, Any]]):
    """One session, or a weekly series, by the clocks of the episode's site."""

    day = serializers.DateField()
    wall = serializers.TimeField(help_text="time of day at the site")
    weeks = serializers.IntegerField(min_value=1, max_value=26, default=1)
    minutes = serializers.IntegerField(min_value=5, max_value=480, default=45)
    staff_id = serializers.UUIDField(required=False)
    note = serializers.CharField(max_length=400, required=False, default="", allow_blank=True)


class NewState(serializers.Serializer[dict[str, Any]]):
    """What became of a session."""

    state = serializers.ChoiceField(choices=STATES)
    note = serializers.CharField(max_length=400, required=False, allow_blank=True)


class Visits(Endpoint):
    """Who comes on a day."""

    @extend_schema(parameters=[DayQuery], responses=page_of(Planned))
    def get(self, request: Request) -> Response:
        """The planned sessions of a day within the caller's reach."""
        self.permit(Action.SEE_PERSON)
        wanted = self.asked(DayQuery)
        zone = self.actor.site.time_zone
        day = wanted.get("day") or clock.local_day(self.at, zone)
        which = {name: wanted.get(name) for name in ("site_id", "staff_id")}
        rows = visits_of_day(self.actor, day, at=self.at, zone=zone, **which)
        return self.listed(rows, lambda row: row.visit_id)


class VisitsOfEpisode(Endpoint):
    """The planned sessions of an episode."""

    @extend_schema(parameters=[PageQuery], responses=page_of(Planned))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """What is planned, soonest first, after the last few that were."""
        self.opened(episode_id, "visits")
        return self.listed(visits_of_episode(self.actor, episode_id, at=self.at), lambda row: row.visit_id)

    @extend_schema(request=NewVisits, responses={201: shape(Written)(many=True)})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Plan one or a weekly series."""
        made = plan_visits(actor=self.actor, episode_id=episode_id, **self.sent(NewVisits))
        return Response([Written(row.pk, row.version) for row in made], status=201)


class VisitState(Endpoint):
    """What became of a session."""

    @extend_schema(request=NewState, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, visit_id: UUID) -> Response:
        """Came, missed, cancelled, or planned again."""
        version = self.seen_version()
        return self.written(
            set_visit_state(actor=self.actor, visit_id=visit_id, version=version, **self.sent(NewState))
        )
