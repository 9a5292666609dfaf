"""Addresses of a server that answers as whom the database is asked, and for nothing else than these tests."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.http import HttpRequest, JsonResponse, StreamingHttpResponse
from django.urls import path
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint


def asked_as() -> dict[str, Any]:
    """What the database's session says of itself, and which episodes it gives without any filter."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT current_setting('clinic.actor', true)")
        (actor,) = cursor.fetchone()
        cursor.execute("SELECT id::text FROM caseload_episode ORDER BY 1")
        return {"actor": actor or "", "episodes": [row[0] for row in cursor.fetchall()]}


@login_not_required
def page(request: HttpRequest) -> JsonResponse:
    """A page, open to strangers."""
    return JsonResponse(asked_as())


@login_not_required
def broken(request: HttpRequest) -> JsonResponse:
    """A page that fails half way, in a transaction."""
    from django.db import transaction

    with transaction.atomic():
        asked_as()
        raise RuntimeError("half way")


@login_not_required
def streamed(request: HttpRequest) -> StreamingHttpResponse:
    """An answer that asks while it is read."""

    def pieces() -> Iterator[str]:
        for _ in range(3):
            yield asked_as()["actor"] + "\n"

    return StreamingHttpResponse(pieces())


class Programme(Endpoint):
    """A call of the API."""

    def get(self, request: Request) -> Response:
        """Whoever has a token."""
        return Response(asked_as())


class Anyone(Endpoint):
    """A call that needs no token."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    def get(self, request: Request) -> Response:
        """Whoever asks."""
        return Response(asked_as())


urlpatterns = [
    path("page", page),
    path("broken", broken),
    path("streamed", streamed),
    path("api/v1/programme", Programme.as_view()),
    path("api/v1/anyone", Anyone.as_view()),
]
