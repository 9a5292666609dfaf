"""Persons: found, read, edited, weighed."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.shapes import Written, shape
from caseload.person.details import PersonDetails
from caseload.person.selectors import PersonFile, person_file
from caseload.person.services import add_person, add_weight, edit_person, note_file_opened


class NewPerson(serializers.Serializer[dict[str, Any]]):
    """Somebody who has no referral yet."""

    site_id = serializers.UUIDField()
    details = shape(PersonDetails)()


class NewWeight(serializers.Serializer[dict[str, Any]]):
    """A body weight in kilograms."""

    kg = serializers.DecimalField(max_digits=5, decimal_places=1, min_value=1, max_value=399)
    measured_on = serializers.DateField()


class People(Endpoint):
    """Persons."""

    @extend_schema(request=NewPerson, responses={201: shape(Written)})
    def post(self, request: Request) -> Response:
        """Add somebody who has no referral yet."""
        sent = self.sent(NewPerson)
        return self.written(add_person(actor=self.actor, **sent), status=201)


class OnePerson(Endpoint):
    """One person."""

    @extend_schema(responses=shape(PersonFile))
    def get(self, request: Request, person_id: UUID) -> Response:
        """Their file."""
        found = person_file(self.actor, person_id, at=self.at)
        note_file_opened(actor=self.actor, person_id=person_id)
        return self.one(found, version=found.version)

    @extend_schema(request=shape(PersonDetails), responses=shape(Written), parameters=[IF_MATCH])
    def put(self, request: Request, person_id: UUID) -> Response:
        """Change what is written about them."""
        version = self.seen_version()
        details: Any = self.sent(shape(PersonDetails))
        return self.written(edit_person(actor=self.actor, person_id=person_id, version=version, details=details))


class Weights(Endpoint):
    """Body weights of a person."""

    @extend_schema(request=NewWeight, responses={204: None})
    def post(self, request: Request, person_id: UUID) -> Response:
        """Note a weight. The same day again replaces it."""
        add_weight(actor=self.actor, person_id=person_id, **self.sent(NewWeight))
        return Response(status=204)
