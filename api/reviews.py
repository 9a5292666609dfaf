"""Planned reviews. What a review found is a fact of the record."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import IF_MATCH, Endpoint
from api.referrals import Why
from api.shapes import PageQuery, Written, page_of, shape
from caseload.review.selectors import Due, open_reviews, overdue_reviews, reviews_of_episode
from caseload.review.services import cancel_review, plan_review, put_off_review
from clinic.access import Action


class ReviewQuery(PageQuery):
    """Which reviews."""

    overdue = serializers.BooleanField(default=False)


class NewReview(serializers.Serializer[dict[str, Any]]):
    """A review that is due on a local day."""

    due_on = serializers.DateField()
    kind = serializers.ChoiceField(choices=["routine", "fall", "setting", "away"], default="routine")
    note = serializers.CharField(max_length=400, required=False, default="", allow_blank=True)


class PutOff(serializers.Serializer[dict[str, Any]]):
    """Another day, and why."""

    due_on = serializers.DateField()
    reason = serializers.CharField(max_length=400)


class Reviews(Endpoint):
    """Reviews to come."""

    @extend_schema(parameters=[ReviewQuery], responses=page_of(Due))
    def get(self, request: Request) -> Response:
        """Open reviews within the caller's reach, the most overdue first."""
        self.permit(Action.SEE_PERSON)
        find = overdue_reviews if self.asked(ReviewQuery)["overdue"] else open_reviews
        return self.listed(find(self.actor, at=self.at), lambda row: row.review_id)


class ReviewsOfEpisode(Endpoint):
    """The reviews of an episode."""

    @extend_schema(parameters=[PageQuery], responses=page_of(Due))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Every planned review."""
        self.opened(episode_id, "planned reviews")
        return self.listed(reviews_of_episode(self.actor, episode_id, at=self.at), lambda row: row.review_id)

    @extend_schema(request=NewReview, responses={201: shape(Written)})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Plan one."""
        return self.written(plan_review(actor=self.actor, episode_id=episode_id, **self.sent(NewReview)), status=201)


class ReviewPutOff(Endpoint):
    """Putting a review off."""

    @extend_schema(request=PutOff, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, review_id: UUID) -> Response:
        """Move it to another day."""
        version = self.seen_version()
        return self.written(put_off_review(actor=self.actor, review_id=review_id, version=version, **self.sent(PutOff)))


class ReviewCancel(Endpoint):
    """Cancelling a review."""

    @extend_schema(request=Why, responses=shape(Written), parameters=[IF_MATCH])
    def post(self, request: Request, review_id: UUID) -> Response:
        """It will not take place."""
        version = self.seen_version()
        return self.written(cancel_review(actor=self.actor, review_id=review_id, version=version, **self.sent(Why)))
