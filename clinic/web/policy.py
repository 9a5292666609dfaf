"""The content security policy of every answer.

A page and a script have the policy of the settings: our own files and nothing else, no inline script or style, and no
text may become markup in the browser (trusted types). Everything else (JSON, a file to take out, a picture that is
opened by itself) is data: it may load nothing, be framed nowhere and run nothing, whatever a browser takes it for.
"""

from __future__ import annotations

from csp.constants import NONE
from csp.decorators import csp_replace
from csp.middleware import CSPMiddleware, PolicyParts
from django.http import HttpRequest
from django.http.response import HttpResponseBase

PAGES = ("text/html", "text/javascript", "application/javascript")
OF_DATA = {
    "default-src": [NONE],
    "base-uri": [NONE],
    "form-action": [NONE],
    "frame-ancestors": [NONE],
    "object-src": [NONE],
    "sandbox": True,
}

# For a page that loads htmx, which puts what the server sent into the page as markup. Its own texts are escaped there
# as everywhere; the rest of the policy stays.
swaps_markup = csp_replace({"require-trusted-types-for": None, "trusted-types": None})


class ContentPolicy(CSPMiddleware):
    """django-csp's middleware, with a policy of its own for what is no page."""

    def get_policy_parts(
        self, request: HttpRequest, response: HttpResponseBase, report_only: bool = False
    ) -> PolicyParts:
        """The page's policy as it is; the one for data in place of it where the answer is not shown as a page."""
        kind = str(response.headers.get("Content-Type", "")).partition(";")[0].strip().lower()
        if report_only or kind in PAGES:
            return super().get_policy_parts(request, response, report_only)
        return PolicyParts(config=OF_DATA)
