"""Referrals: the waiting list, a new referral, one that ends without an episode."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.shapes import PageQuery, Written, page_of, shape
from caseload.person.details import PersonDetails
from caseload.referral.details import ReferralDetails
from caseload.referral.selectors import Waiting, waiting_list, waiting_referral
from caseload.referral.services import end_referral, take_referral
from clinic.access import Action


class NewReferral(serializers.Serializer[dict[str, Any]]):
    """A referral of a person known to the clinic, or of a new one: give one of the two."""

    site_id = serializers.UUIDField()
    details = shape(ReferralDetails)()
    person_id = serializers.UUIDField(required=False)
    person = shape(PersonDetails)(required=False)


class WaitingQuery(PageQuery):
    """Which part of the waiting list."""

    urgency = serializers.ChoiceField(choices=["routine", "soon", "urgent"], required=False)
    site_id = serializers.UUIDField(required=False)


class Why(serializers.Serializer[dict[str, Any]]):
    """The reason of an act."""

    reason = serializers.CharField(max_length=400)


class Referrals(Endpoint):
    """Who waits."""

    @extend_schema(parameters=[WaitingQuery], responses=page_of(Waiting))
    def get(self, request: Request) -> Response:
        """The waiting list: over the limit first, the more urgent before the less."""
        self.permit(Action.SEE_CASELOAD)
        wanted = self.asked(WaitingQuery)
        rows = [
            row
            for row in waiting_list(self.actor, at=self.at)
            if wanted.get("urgency", row.urgency) == row.urgency and wanted.get("site_id", row.site_id) == row.site_id
        ]
        return self.listed(rows, lambda row: row.referral_id)

    @extend_schema(request=NewReferral, responses={201: shape(Written)})
    def post(self, request: Request) -> Response:
        """Take a referral: the person waits from the day on which it was received."""
        return self.written(take_referral(actor=self.actor, **self.sent(NewReferral)), status=201)


class OneReferral(Endpoint):
    """One referral that waits."""

    @extend_schema(responses=shape(Waiting))
    def get(self, request: Request, referral_id: UUID) -> Response:
        """The row of the waiting list."""
        found = waiting_referral(self.actor, referral_id, at=self.at)
        return self.one(found, version=found.version)


class ReferralEnd(Endpoint):
    """The end of a wait without an episode."""

    @extend_schema(request=Why, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, referral_id: UUID) -> Response:
        """End a referral that will not become an episode."""
        version = self.seen_version()
        return self.written(end_referral(actor=self.actor, referral_id=referral_id, version=version, **self.sent(Why)))
