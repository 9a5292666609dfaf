"""Facts: recorded in batches, each with its own verdict, idempotent by id."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema, inline_serializer
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.shapes import shape
from checklists.floor.advice import advice_for
from checklists.floor.pack import Pack, pack
from checklists.floor.state import of_floor
from checklists.person.services import note_taken
from checklists.record.services import Raised, record_entries

ANY_ENTRY = serializers.DictField(help_text="an entry of SEMANTICS.md §1; `by`, `role` and `episode` are the server's")


class Batch(serializers.Serializer[dict[str, Any]]):
    """Facts of one episode. Each is checked by itself: one bad entry refuses that entry and no other."""

    entries = serializers.ListField(child=serializers.JSONField(allow_null=True), allow_empty=False)
    judged = serializers.JSONField(
        required=False,
        help_text="what the sender's own core said, {id of an entry: {after, with, alerts, core}}; what cannot be read "
        "of it is left out, and said in the answer's `judged`",
    )


class VerdictOfEntry(serializers.Serializer[dict[str, Any]]):
    """What became of one entry, in the order given."""

    id = serializers.CharField(allow_null=True)
    outcome = serializers.ChoiceField(choices=["accepted", "repeated", "refused", "held"])
    error = serializers.CharField(allow_null=True)
    alerts = shape(Raised)(many=True)


class RecordedBatch(serializers.Serializer[dict[str, Any]]):
    """The verdicts, and the alerts that the call raised and withdrew."""

    verdicts = VerdictOfEntry(many=True)
    raised = shape(Raised)(many=True)
    withdrawn = shape(Raised)(many=True)
    judged = serializers.CharField(allow_null=True, help_text="what could not be read of what the sender had judged")


class Planned(serializers.Serializer[dict[str, Any]]):
    """An attempt that is planned. `pending`: facts on their way that the record does not have yet."""

    skill = serializers.CharField(max_length=60)
    pending = serializers.ListField(child=serializers.DictField(), required=False, max_length=1000)


class BrokenRule(serializers.Serializer[dict[str, Any]]):
    """A rule that it would break, and what to do first."""

    rule = serializers.CharField()
    severity = serializers.CharField()
    sentence = serializers.CharField()
    do_first = serializers.CharField()


class CountedOnRung(serializers.Serializer[dict[str, Any]]):
    """Whether it would count for the proof; what the proof asks for, where the attempt has more, or lacks it."""

    counts = serializers.BooleanField()
    anew = serializers.BooleanField(help_text="it would begin the row again")
    support = serializers.CharField(allow_null=True)
    help = serializers.CharField(allow_null=True)
    measures = serializers.ListField(child=serializers.CharField())


class AdviceOnRung(serializers.Serializer[dict[str, Any]]):
    """Whether it may be tried so."""

    allowed = serializers.BooleanField()
    breaks = BrokenRule(many=True)
    counted = CountedOnRung(allow_null=True, help_text="null where nothing is counted, such as of a skill signed off")


class PackQuery(serializers.Serializer[dict[str, Any]]):
    """What the caller has already."""

    since = serializers.IntegerField(min_value=0, max_value=2**63 - 1, default=0, help_text="`number` of the last pack")
    protocol = serializers.CharField(
        required=False, default="", allow_blank=True, max_length=64, help_text="its digest"
    )


class Entries(Endpoint):
    """The facts of an episode."""

    @extend_schema(request=Batch, responses=RecordedBatch)
    def post(self, request: Request, episode_id: UUID) -> Response:
        """Record what was seen or done. Sending the same entry again is harmless."""
        sent = self.sent(Batch)
        entries, judged = sent["entries"], sent.get("judged")
        return Response(record_entries(actor=self.actor, episode_id=episode_id, entries=entries, judged=judged))


class Advice(Endpoint):
    """Advice before the fact."""

    @extend_schema(
        request=Planned,
        responses=inline_serializer(
            "SkillAdvice", {"advice": serializers.DictField(child=serializers.DictField(child=AdviceOnRung()))}
        ),
    )
    def post(self, request: Request, episode_id: UUID) -> Response:
        """What would happen if a skill were tried now, on every rung and with every help: {rung: {help: advice}}."""
        wanted = self.sent(Planned)
        episode = of_floor(self.actor, episode_id, at=self.at)
        found = advice_for(episode, self.actor, wanted["skill"], wanted.get("pending"), at=self.at)
        return Response({"advice": found})


class PackOfEpisode(Endpoint):
    """An episode to take along."""

    @extend_schema(parameters=[PackQuery], responses=shape(Pack))
    def get(self, request: Request, episode_id: UUID) -> Response:
        """Protocol and entries, for a device that works without a network; with `since`, what was added since then.

        The first of a day leaves a row in the trail. Each entry is the JSON text that the record holds.
        """
        wanted = self.asked(PackQuery)
        found = pack(self.actor, episode_id, since=wanted["since"], known=wanted["protocol"], at=self.at)
        note_taken(actor=self.actor, episode_id=episode_id)
        return Response(found)
