"""Sealed marks, brought by whoever is signed in next on a tablet; and refused entries that their sender has seen to."""

from __future__ import annotations

import base64
import binascii
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.shapes import shape
from checklists.record.late import settle_own
from checklists.sealed.bringing import Brought, bring
from checklists.sealed.selectors import names_of
from clinic import clock

ENC_LETTERS, MOST_LETTERS, MOST_AT_ONCE = 88, 60_000, 100


class Base64(serializers.CharField):
    """Bytes, as RFC 4648 §4 writes them."""

    def to_internal_value(self, data: Any) -> str:
        """The text itself, once it is known to be one."""
        text = super().to_internal_value(data)
        try:
            base64.b64decode(text, validate=True)
        except (binascii.Error, ValueError):
            raise serializers.ValidationError("must be base64 (RFC 4648)") from None
        return str(text)


class Mark(serializers.Serializer[dict[str, Any]]):
    """One sealed mark (RFC 9180; clinic/ledger/sealing.py says of which suite and with what it is bound to)."""

    id = serializers.UUIDField(help_text="of the fact")
    staff = serializers.CharField(max_length=20, help_text="reference of its author")
    key = serializers.RegexField(r"^[0-9]{1,9}\Z", help_text="the clinic's key that it was sealed for")
    enc = Base64(max_length=ENC_LETTERS)
    box = Base64(max_length=MOST_LETTERS)


class Marks(serializers.Serializer[dict[str, Any]]):
    """Some of them."""

    marks = serializers.ListField(child=Mark(), allow_empty=False, max_length=MOST_AT_ONCE)


class BroughtMarks(serializers.Serializer[dict[str, Any]]):
    """In the order given; and whose those are that are kept, where the bringer may read for whom marks wait."""

    verdicts = shape(Brought)(many=True)
    authors = serializers.DictField(child=serializers.CharField(), help_text="reference: name")


class Seen(serializers.Serializer[dict[str, Any]]):
    """Why it is not to be recorded, or as what it was recorded again."""

    reason = serializers.CharField(max_length=400)
    again_as = serializers.UUIDField(required=False, allow_null=True, default=None, help_text="that other id")


class Sealed(Endpoint):
    """Sealed marks."""

    @extend_schema(request=Marks, responses=BroughtMarks)
    def post(self, request: Request) -> Response:
        """Keep them for their authors, who record them under their own name or drop them. Bringing one again is
        harmless; whoever brings them reads nothing."""
        marks = [{**mark, "id": str(mark["id"])} for mark in self.sent(Marks)["marks"]]
        verdicts = bring(actor=self.actor, marks=marks)
        kept = [mark["staff"] for mark, said in zip(marks, verdicts, strict=True) if said.outcome == "kept"]
        return Response({"verdicts": verdicts, "authors": names_of(self.actor, kept, at=clock.now())})


class EntrySettled(Endpoint):
    """An entry that was refused."""

    @extend_schema(request=Seen, responses={204: None})
    def post(self, request: Request, episode_id: UUID, entry: UUID) -> Response:
        """Its sender has seen to it: dropped, or recorded again under another id. The reason stands in the trail."""
        settle_own(actor=self.actor, episode_id=episode_id, entry=entry, **self.sent(Seen))
        return Response(status=204)
