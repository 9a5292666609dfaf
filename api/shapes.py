"""Shapes of answers, made from the very dataclasses that selectors return: nothing is described twice."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from typing import Any
from uuid import UUID

from drf_spectacular.utils import inline_serializer
from rest_framework import serializers
from rest_framework_dataclasses.serializers import DataclassSerializer

LEFT_RIGHT = [("left", "left"), ("right", "right")]


@dataclass(frozen=True, slots=True)
class Written:
    """What was written, and its version: the ETag of the next change."""

    id: UUID
    version: int


@cache
def shape(cls: type[Any]) -> type[serializers.Serializer[Any]]:
    """The serializer of a dataclass. A text whose default is empty may be sent empty."""
    blank = {field.name: {"allow_blank": True} for field in fields(cls) if field.default == ""}
    meta = type("Meta", (), {"dataclass": cls, "extra_kwargs": blank})
    made: type[serializers.Serializer[Any]] = type(
        f"{cls.__name__}Shape", (DataclassSerializer,), {"Meta": meta, "__doc__": cls.__doc__}
    )
    return made


@cache
def page_of(cls: Any) -> serializers.Serializer[Any]:
    """A page of them, and the cursor of the next one."""
    made: serializers.Serializer[Any] = inline_serializer(
        f"{cls.__name__}Page",
        {"items": shape(cls)(many=True), "next": serializers.CharField(allow_null=True)},
    )
    return made


class Nothing(serializers.Serializer[dict[str, Any]]):
    """A request without content."""


class PageQuery(serializers.Serializer[dict[str, Any]]):
    """Which page of a list."""

    limit = serializers.IntegerField(min_value=1, max_value=200, default=50)
    cursor = serializers.CharField(required=False, max_length=200)
