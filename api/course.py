"""Opening and closing an episode, changing a setting, reviewing a fall: plans and facts in one act."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.episodes import EpisodeList
from api.record import RecordedBatch
from api.requests import SETTINGS
from api.shapes import LEFT_RIGHT, Written, shape
from checklists.episode.changing import Written as FactWritten
from checklists.episode.services import change_setting, close_episode, open_episode, review_fall

FEATURES = ["lock", "free_swing", "yielding", "resistance"]


class Opening(serializers.Serializer[dict[str, Any]]):
    """A referral, and the therapist who carries the person from now on."""

    referral_id = serializers.UUIDField()
    therapist_id = serializers.UUIDField()
    first_day = serializers.DateField(required=False)
    reason = serializers.CharField(max_length=400, required=False, default="", allow_blank=True)


class Closing(serializers.Serializer[dict[str, Any]]):
    """Why the episode ends. `entry_id` makes a repeat harmless."""

    reason = serializers.CharField(max_length=400, required=False, default="", allow_blank=True)
    entry_id = serializers.UUIDField(required=False)


class NewSetting(serializers.Serializer[dict[str, Any]]):
    """A change of a setting or component, and the request that it answers."""

    setting = serializers.ChoiceField(choices=SETTINGS)
    to = serializers.CharField(max_length=400)
    before = serializers.CharField(max_length=400, required=False, default="", allow_blank=True)
    features = serializers.ListField(child=serializers.ChoiceField(choices=FEATURES), required=False, max_length=4)
    knee = serializers.ChoiceField(choices=LEFT_RIGHT, required=False)
    note = serializers.CharField(max_length=4000, required=False, default="", allow_blank=True)
    entry_id = serializers.UUIDField(required=False)
    request_id = serializers.UUIDField(required=False)
    version = serializers.IntegerField(min_value=0, max_value=2**31 - 1, default=0, help_text="of the request, as seen")


class ReviewDone(serializers.Serializer[dict[str, Any]]):
    """What a review looked at and found."""

    of = serializers.ListField(child=serializers.UUIDField(), default=list, max_length=50, help_text="falls")
    outcome = serializers.ChoiceField(choices=["cleared", "not_cleared"], required=False, default=None, allow_null=True)
    next_due = serializers.DateField(required=False)
    note = serializers.CharField(max_length=4000, required=False, default="", allow_blank=True)
    entry_id = serializers.UUIDField(required=False)
    settles = serializers.ListField(
        child=serializers.UUIDField(),
        required=False,
        max_length=50,
        help_text="planned reviews that it settles; left out: of falls, what is planned after a fall, else what was due"
        " by then; of none, what was due by then, else the next that is due soon",
    )


class FactShape(serializers.Serializer[dict[str, Any]]):
    """The fact that was written, and what followed from it."""

    entry = serializers.UUIDField()
    recorded = RecordedBatch()


class Episodes(EpisodeList):
    """Episodes."""

    @extend_schema(request=Opening, responses={201: shape(Written)})
    def post(self, request: Request) -> Response:
        """Turn a referral into an episode. The same referral again gives the same episode."""
        return self.written(open_episode(actor=self.actor, **self.sent(Opening)), status=201)


class EpisodeEnd(Endpoint):
    """Discharge."""

    @extend_schema(request=Closing, responses={201: FactShape})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Close the episode; what was planned ends with it."""
        return _told(close_episode(actor=self.actor, episode_id=episode_id, **self.sent(Closing)))


class SettingChanges(Endpoint):
    """Changes of a setting or component."""

    @extend_schema(request=NewSetting, responses={201: FactShape})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Record a change; what depends on it falls back."""
        return _told(change_setting(actor=self.actor, episode_id=episode_id, **self.sent(NewSetting)))


class ReviewsDone(Endpoint):
    """Reviews that took place."""

    @extend_schema(request=ReviewDone, responses={201: FactShape})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Record a review, of falls or a routine one."""
        return _told(review_fall(actor=self.actor, episode_id=episode_id, **self.sent(ReviewDone)))


def _told(written: FactWritten) -> Response:
    return Response({"entry": written.entry, "recorded": written.recorded}, status=201)
