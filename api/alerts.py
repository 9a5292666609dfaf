"""Alerts: one act a row with its rules inside; answered by saying what was done."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from checklists.alerts.selectors import Act, Cursor, Filters, RuleInAct, acts, unread
from checklists.alerts.services import acknowledge, read_notices, take_back
from clinic.access import Action

STATES = ["waiting", "answered", "withdrawn"]
SEVERITIES = ["critical", "major", "minor"]


class AlertQuery(serializers.Serializer[dict[str, Any]]):
    """Which acts."""

    episode_id = serializers.UUIDField(required=False)
    state = serializers.ChoiceField(choices=STATES, required=False)
    severity = serializers.ChoiceField(choices=SEVERITIES, required=False)
    escalated = serializers.BooleanField(default=False)
    limit = serializers.IntegerField(min_value=1, max_value=200, default=50)
    cursor = serializers.CharField(required=False, default="", allow_blank=True, max_length=80)


class AlertStepShape(serializers.Serializer[dict[str, Any]]):
    """Something that happened to an alert."""

    kind = serializers.CharField()
    at = serializers.DateTimeField()
    by = serializers.CharField(allow_null=True)
    text = serializers.CharField()


class RuleShape(serializers.Serializer[dict[str, Any]]):
    """A rule that the act broke."""

    rule = serializers.CharField()
    severity = serializers.CharField()
    sentence = serializers.CharField()
    do_now = serializers.CharField()
    state = serializers.ChoiceField(choices=STATES)
    known_at = serializers.DateTimeField()
    withdrawn_at = serializers.DateTimeField(allow_null=True)
    escalated_at = serializers.DateTimeField(allow_null=True)
    steps = AlertStepShape(many=True)


class ActShape(serializers.Serializer[dict[str, Any]]):
    """Something that somebody did, and every rule that it broke."""

    episode_id = serializers.UUIDField()
    reference = serializers.CharField()
    person = serializers.CharField()
    number = serializers.CharField()
    entry = serializers.UUIDField()
    fact = serializers.DictField()
    by = serializers.CharField()
    happened_at = serializers.DateTimeField()
    known_at = serializers.DateTimeField()
    severity = serializers.ChoiceField(choices=SEVERITIES)
    state = serializers.ChoiceField(choices=STATES)
    escalated_at = serializers.DateTimeField(allow_null=True)
    rules = RuleShape(many=True)


class Answer(serializers.Serializer[dict[str, Any]]):
    """What was done about it; or, with `taken_back`, why the answer before is wrong."""

    text = serializers.CharField(max_length=2000)
    taken_back = serializers.BooleanField(default=False)


class Answered(serializers.Serializer[dict[str, Any]]):
    """How many alerts of the act were answered with it, none where the very same answer stands; and how many wait again
    because an answer was taken back."""

    answered = serializers.IntegerField()
    taken_back = serializers.IntegerField()


class Alerts(Endpoint):
    """Acts that broke rules."""

    @extend_schema(
        parameters=[AlertQuery],
        responses=inline_serializer(
            "ActPage", {"items": ActShape(many=True), "next": serializers.CharField(allow_null=True)}
        ),
    )
    def get(self, request: Request) -> Response:
        """The acts within the caller's reach, the last known first."""
        self.permit(Action.SEE_ALERTS)
        wanted = self.asked(AlertQuery)
        limit, cursor = wanted.pop("limit"), Cursor.read(wanted.pop("cursor"))
        found = acts(self.actor, Filters(**wanted, before=cursor, most=limit + 1), at=self.at)
        more = len(found) > limit
        items = [_act(one) for one in found[:limit]]
        return Response({"items": items, "next": str(found[limit - 1].cursor) if more else None})


class ActAnswered(Endpoint):
    """Answering an act."""

    @extend_schema(request=Answer, responses=Answered)
    def post(self, request: Request, episode_id: UUID, entry_id: UUID) -> Response:
        """Say what was done about it: a further answer follows the one before, and both stand. With `taken_back`: why
        the answer is wrong; what it answered waits again."""
        sent = self.sent(Answer)
        back = bool(sent["taken_back"])
        many = (take_back if back else acknowledge)(
            actor=self.actor, episode_id=episode_id, entry=entry_id, text=sent["text"]
        )
        return Response({"answered": 0 if back else many, "taken_back": many if back else 0})


class Unread(serializers.Serializer[dict[str, Any]]):
    """How many notices the caller has not read, how many of them are critical, and the number of the last."""

    all = serializers.IntegerField()
    critical = serializers.IntegerField()
    last = serializers.IntegerField()


class ReadUpTo(serializers.Serializer[dict[str, Any]]):
    """The number of the last notice that was looked at."""

    last = serializers.IntegerField(min_value=0, max_value=2**63 - 1)


class News(Endpoint):
    """The caller's unread news."""

    @extend_schema(responses=Unread)
    def get(self, request: Request) -> Response:
        """How many wait."""
        return Response(unread(self.actor))

    @extend_schema(request=ReadUpTo, responses={204: None})
    def post(self, request: Request) -> Response:
        """They have been looked at, up to a number."""
        read_notices(actor=self.actor, up_to=self.sent(ReadUpTo)["last"])
        return Response(status=204)


_OF_ACT = tuple(name for name in ActShape._declared_fields if name != "rules")
_OF_RULE = tuple(name for name in RuleShape._declared_fields if name != "steps")


def _act(one: Act) -> dict[str, Any]:
    return {name: getattr(one, name) for name in _OF_ACT} | {"rules": [_rule(rule) for rule in one.rules]}


def _rule(rule: RuleInAct) -> dict[str, Any]:
    steps = [
        {"kind": step.kind, "at": step.at, "by": step.by.name if step.by else None, "text": step.text}
        for step in rule.steps
    ]
    return {name: getattr(rule, name) for name in _OF_RULE} | {"steps": steps}
