"""The way to a proof bundle, for whoever may give one out."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from clinic import access, clock
from clinic.access import Action

register = template.Library()


@register.simple_tag(takes_context=True)
def proof_link(context: dict[str, Any], about: object) -> SafeString:
    """A link to the page that makes the bundle about this episode (its reference) or sign-off (its entry's id)."""
    actor = context["request"].user
    if not actor.is_authenticated or access.reach(actor, Action.EXPORT_RECORD, clock.now()) is None:
        return SafeString("")
    address = f"{reverse('proof')}?{urlencode({'about': about})}"
    return format_html('<a class="act act-soft no-print" href="{}">{}</a>', address, _("Proof bundle"))
