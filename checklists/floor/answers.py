"""The Floor's script is answered in JSON, also when something is refused: a page would be no answer to it."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

import orjson
from django.http import HttpRequest, HttpResponse, JsonResponse

from clinic.audit.refused import note_refused
from clinic.errors import Invalid, Refusal
from clinic.web.forms import signed_in


def answered(view: Callable[..., dict[str, Any]]) -> Callable[..., HttpResponse]:
    """Turn what a view returns, or the refusal that it raises, into JSON; refused access leaves its trail row."""

    @wraps(view)
    def in_json(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        try:
            return HttpResponse(orjson.dumps(view(request, *args, **kwargs)), content_type="application/json")
        except Refusal as refusal:
            note_refused(signed_in(request), refusal, request.path, kwargs)
            said = {"detail": refusal.sentence, "code": refusal.code, "reasons": list(refusal.reasons)}
            return JsonResponse(said, status=refusal.status)

    return in_json


def sent(request: HttpRequest) -> dict[str, Any]:
    """The JSON object that was sent; anything else is refused."""
    try:
        body = orjson.loads(request.body)
    except orjson.JSONDecodeError:
        raise Invalid("What was sent is not JSON. Nothing was done.") from None
    if not isinstance(body, dict):
        raise Invalid("What was sent is not a JSON object. Nothing was done.")
    return body
