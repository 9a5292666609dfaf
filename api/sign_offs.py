"""Signing skills off: what would be signed, the signature, and taking it back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.utils.decorators import method_decorator
from django.views.decorators.debug import sensitive_post_parameters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.shapes import shape
from checklists.signoff.meaning import Meaning
from checklists.signoff.selectors import Printed, signatures_of
from checklists.signoff.services import Countersign, Proof, readiness, sign_off, withdraw_sign_off


def password_field(*, required: bool = True) -> serializers.CharField:
    """A password as it was typed, never told again."""
    return serializers.CharField(max_length=400, trim_whitespace=False, write_only=True, required=required)


def code_field() -> serializers.CharField:
    """A one-time or recovery code of a second factor, never told again."""
    return serializers.CharField(max_length=60, required=False, write_only=True)


class EvidenceShown(serializers.Serializer[dict[str, Any]]):
    """What is signed: evidence, statement and digest, and what stands in the way of the caller's signature."""

    skill = serializers.CharField()
    title = serializers.CharField()
    status = serializers.CharField()
    statement = serializers.CharField()
    evidence = serializers.DictField()
    digest = serializers.CharField()
    blockers = serializers.ListField(child=serializers.CharField())
    barred = serializers.ListField(child=serializers.CharField())
    may_override = serializers.BooleanField()
    signatures = shape(Printed)(many=True)


class CountersignatureSent(serializers.Serializer[dict[str, Any]]):
    """Another clinic lead's name, password, code and reason, for what the evidence does not carry."""

    username = serializers.CharField(max_length=60)
    password = password_field()
    code = code_field()
    reason = serializers.CharField(max_length=400)


class Shown(serializers.Serializer[dict[str, Any]]):
    """Who the caller is, shown again: password and code; in a browser's session that has shown both already, one of
    them."""

    password = password_field(required=False)
    code = code_field()


class Signature(Shown):
    """The digest of the evidence that was shown, what the signature means, and who the caller is."""

    digest = serializers.RegexField("^[0-9a-f]{64}$")
    meaning = serializers.ChoiceField(Meaning.choices)
    countersign = CountersignatureSent(required=False)


class Signed(serializers.Serializer[dict[str, Any]]):
    """The signature that stands. `repeated`: it was there already."""

    entry = serializers.UUIDField()
    skill = serializers.CharField()
    at = serializers.DateTimeField()
    repeated = serializers.BooleanField()


class TakenBack(Shown):
    """Why a signature is withdrawn, and who the caller is."""

    reason = serializers.CharField(max_length=400)


def _proof(sent: dict[str, Any]) -> Proof:
    return Proof(sent.get("password", ""), sent.get("code", ""))


@method_decorator(sensitive_post_parameters(), name="dispatch")
class SignOff(Endpoint):
    """A skill of an episode, to be signed off."""

    @extend_schema(responses=EvidenceShown)
    def get(self, request: Request, episode_id: UUID, skill: str) -> Response:
        """The evidence, the statement and its digest."""
        self.opened(episode_id, f"sign-off {skill}")
        found = readiness(actor=self.actor, episode_id=episode_id, skill=skill)
        plain = ("skill", "title", "status", "statement", "digest", "blockers", "barred", "may_override")
        more = {"evidence": found.evidence.shown, "signatures": signatures_of(episode_id, skill)}
        return Response({name: getattr(found, name) for name in plain} | more)

    @extend_schema(request=Signature, responses={200: Signed, 201: Signed})
    def post(self, request: Request, episode_id: UUID, skill: str) -> Response:
        """Sign. The same state signed twice is one signature."""
        sent = self.sent(Signature)
        other = sent.pop("countersign", None)
        done = sign_off(
            actor=self.actor,
            episode_id=episode_id,
            skill=skill,
            digest=sent["digest"],
            meaning=sent["meaning"],
            proof=_proof(sent),
            countersign=Countersign(**other) if other else None,
        )
        told = {name: getattr(done, name) for name in ("entry", "skill", "at", "repeated")}
        return Response(told, status=200 if done.repeated else 201)


@method_decorator(sensitive_post_parameters(), name="dispatch")
class SignOffWithdrawn(Endpoint):
    """Taking a signature back."""

    @extend_schema(request=TakenBack, responses={204: None})
    def post(self, request: Request, episode_id: UUID, skill: str) -> Response:
        """Withdraw the sign-off that stands."""
        sent = self.sent(TakenBack)
        withdraw_sign_off(
            actor=self.actor, episode_id=episode_id, skill=skill, reason=sent["reason"], proof=_proof(sent)
        )
        return Response(status=204)
