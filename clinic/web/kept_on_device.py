"""Which pages a browser may keep, encrypted, to be opened again without a network (static/clinic/device/worker/).

Every page is sent with `no-store`. Those that somebody needs at the bars say whose they are; the worker keeps no other,
and shows a page to nobody else.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, HttpResponse

from clinic.web.forms import signed_in

PAGE_OF = "X-Page-Of"
CARRIES_ON = "X-Carries-On"
View = Callable[..., HttpResponse]
Asked = Callable[..., bool]


def kept_on_device(view: View) -> View:
    """A page that its reader's own device may keep."""
    return kept_where(lambda request, **kwargs: True)(view)


def carries_on(view: View) -> View:
    """A kept page that carries its own copy of the record on: what was recorded since does not make it old."""

    @wraps(view)
    def with_word(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        response[CARRIES_ON] = "record"
        return response

    return with_word


def kept_where(asked: Asked) -> Callable[[View], View]:
    """The same, where `asked` says so of the request and the parts of its address."""

    def marked(view: View) -> View:
        @wraps(view)
        def with_name(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            response = view(request, *args, **kwargs)
            if request.method == "GET" and response.status_code == 200 and asked(request, **kwargs):
                response[PAGE_OF] = signed_in(request).reference
            return response

        return with_name

    return marked
