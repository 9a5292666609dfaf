"""The load of each therapist, by the clinic's own weights."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.shapes import PageQuery, page_of, shape
from caseload.load.phase import Minutes
from caseload.load.selectors import Load, load_weights, loads
from caseload.load.services import set_load_weights

PHASES = ["new", "training", "keeping", "paused"]


class PhaseWeight(serializers.Serializer[dict[str, Any]]):
    """Minutes a week that a person costs in a phase."""

    phase = serializers.ChoiceField(choices=PHASES)
    minutes = shape(Minutes)()


class WeightsInput(serializers.Serializer[dict[str, Any]]):
    """The weights that are set. Phases that are left out stay as they are."""

    weights = PhaseWeight(many=True)


class Loads(Endpoint):
    """Who carries how much."""

    @extend_schema(parameters=[PageQuery], responses=page_of(Load))
    def get(self, request: Request) -> Response:
        """Every therapist with minutes carried, covered and available."""
        return self.listed(loads(self.actor, at=self.at), lambda row: row.staff_id)


class LoadWeights(Endpoint):
    """The clinic's own weights."""

    @extend_schema(responses=PhaseWeight(many=True))
    def get(self, request: Request) -> Response:
        """As they stand."""
        found = load_weights(self.actor, at=self.at)
        return Response([{"phase": phase, "minutes": minutes} for phase, minutes in found.items()])

    @extend_schema(request=WeightsInput, responses={204: None})
    def put(self, request: Request) -> Response:
        """Set them."""
        sent = self.sent(WeightsInput)["weights"]
        set_load_weights(actor=self.actor, weights={row["phase"]: row["minutes"] for row in sent})
        return Response(status=204)
