"""Corrections that somebody asked for: written down by whoever hears it, answered by a clinic lead."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.shapes import PageQuery, page_of, shape
from checklists.keeping import about, asking
from checklists.keeping.corrections import Correction, corrections_of
from clinic.access import Action


@dataclass(frozen=True, slots=True)
class CorrectionAsked:
    """One request with the answer that counts, if there is one. `target` is empty where no entry is named."""

    entry: UUID
    target: str
    text: str
    asked_by: str
    by: str
    at: datetime
    due_on: date
    open: bool
    withdrawn: str = ""
    answer: str = ""
    reason: str = ""
    struck: tuple[str, ...] = ()
    added: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FactWritten:
    """The entry that was written."""

    entry: UUID


class AskCorrection(serializers.Serializer[dict[str, Any]]):
    """What is wrong and what would be right, who says so, and about which entry."""

    text = serializers.CharField(max_length=4000)
    asked_by = serializers.CharField(max_length=200)
    target = serializers.UUIDField(required=False)
    entry_id = serializers.UUIDField(required=False)


class AnswerCorrection(serializers.Serializer[dict[str, Any]]):
    """Agreed, with what put it right, or declined, with the reason. `strike`: strike the entry out with it."""

    answer = serializers.ChoiceField(choices=["agreed", "declined"])
    reason = serializers.CharField(max_length=4000, required=False, allow_blank=True)
    strike = serializers.BooleanField(required=False)
    struck = serializers.ListField(child=serializers.UUIDField(), max_length=100, required=False)
    added = serializers.ListField(child=serializers.UUIDField(), max_length=100, required=False)
    entry_id = serializers.UUIDField(required=False)


class Corrections(Endpoint):
    """Corrections of one episode."""

    @extend_schema(parameters=[PageQuery], responses=page_of(CorrectionAsked))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Every request, oldest first, with its answer."""
        about.note_opened(actor=self.actor, episode_id=episode_id, page="api: corrections")
        found = [_asked(one) for one in corrections_of([episode_id]).get(episode_id, ())]
        return self.listed(found, lambda row: row.entry)

    @extend_schema(request=AskCorrection, responses={201: shape(FactWritten)})
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Write a request down. By itself it changes nothing of the record."""
        said = asking.ask_correction(actor=self.actor, episode_id=episode_id, **self.sent(AskCorrection))
        return Response(FactWritten(said.entry), status=201)


class CorrectionAnswer(Endpoint):
    """The answer to a request."""

    @extend_schema(request=AnswerCorrection, responses={201: shape(FactWritten)})
    def post(self, request: Request, episode_id: UUID, correction_id: UUID) -> Response:
        """Answer a request."""
        self.permit(Action.ANSWER_CORRECTION)
        said = asking.answer_correction(
            actor=self.actor, episode_id=episode_id, request_id=correction_id, **self.sent(AnswerCorrection)
        )
        return Response(FactWritten(said.entry), status=201)


def _asked(one: Correction) -> CorrectionAsked:
    answer = one.answered
    return CorrectionAsked(
        entry=one.entry,
        target=one.target,
        text=one.text,
        asked_by=one.asked_by,
        by=one.by,
        at=one.at,
        due_on=one.due_on,
        open=one.open,
        withdrawn=one.withdrawn,
        answer=answer.answer if answer else "",
        reason=answer.reason if answer else "",
        struck=answer.struck if answer else (),
        added=answer.added if answer else (),
    )
