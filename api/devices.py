"""The device register."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.shapes import LEFT_RIGHT, PageQuery, Written, page_of, shape
from caseload.prosthesis.selectors import Device, devices
from caseload.prosthesis.services import edit_prosthesis, fit_component, register_prosthesis, remove_component


class Scale(serializers.Serializer[dict[str, Any]]):
    """A prosthesis and the scale of its stance-flexion resistance."""

    label = serializers.CharField(max_length=80)  # type: ignore[assignment]  # the field of that name
    resistance_low = serializers.IntegerField(min_value=0, max_value=100, default=1)
    resistance_high = serializers.IntegerField(min_value=1, max_value=100, default=9)


class NewDevice(Scale):
    """A prosthesis on one side."""

    side = serializers.ChoiceField(choices=LEFT_RIGHT)


class NewPart(serializers.Serializer[dict[str, Any]]):
    """A component that is fitted."""

    kind = serializers.ChoiceField(choices=["socket", "liner", "knee", "foot", "other"])
    description = serializers.CharField(max_length=120)
    serial = serializers.CharField(max_length=60, required=False, default="", allow_blank=True)
    since = serializers.DateField(required=False)


class Removed(serializers.Serializer[dict[str, Any]]):
    """The last day on which a part was not worn any more."""

    on = serializers.DateField(required=False)


class DevicesOfEpisode(Endpoint):
    """The prostheses of an episode."""

    @extend_schema(parameters=[PageQuery], responses=page_of(Device))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Each with its components over time."""
        self.opened(episode_id, "devices")
        return self.listed(devices(self.actor, episode_id, at=self.at), lambda row: row.prosthesis_id)

    @extend_schema(request=NewDevice, responses={201: shape(Written)})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Register a prosthesis."""
        made = register_prosthesis(actor=self.actor, episode_id=episode_id, **self.sent(NewDevice))
        return self.written(made, status=201)


class OneDevice(Endpoint):
    """One prosthesis."""

    @extend_schema(request=Scale, responses=shape(Written), parameters=[IF_MATCH])
    def put(self, request: Request, prosthesis_id: UUID) -> Response:
        """Change its label or scale."""
        version = self.seen_version()
        return self.written(
            edit_prosthesis(actor=self.actor, prosthesis_id=prosthesis_id, version=version, **self.sent(Scale))
        )


class Parts(Endpoint):
    """Components of a prosthesis."""

    @extend_schema(request=NewPart, responses={204: None})
    def post(self, request: Request, prosthesis_id: UUID) -> Response:
        """Fit a component; one of the same kind that was worn ends."""
        fit_component(actor=self.actor, prosthesis_id=prosthesis_id, **self.sent(NewPart))
        return Response(status=204)


class PartRemoved(Endpoint):
    """Taking a component off."""

    @extend_schema(request=Removed, responses={204: None})
    def post(self, request: Request, prosthesis_id: UUID, component_id: UUID) -> Response:
        """It is not worn any more."""
        remove_component(actor=self.actor, prosthesis_id=prosthesis_id, component_id=component_id, **self.sent(Removed))
        return Response(status=204)
