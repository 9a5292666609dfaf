"""Bars on a scale with ticks, whose limit is a post; drawn on the server. Words, and where a part is fitted.

{% load_bar load %} · {% load_bar load after %} · {% wait_bar wait %} · {{ minutes|hours }} · {{ "left"|side }} ·
{{ device|bench_form:"knee" }}
"""

from __future__ import annotations

from django import template
from django.utils.safestring import SafeString, mark_safe

from caseload import bars, words
from caseload.load.selectors import Load
from caseload.prosthesis import places
from caseload.prosthesis.selectors import Device
from caseload.referral.waiting import Wait

register = template.Library()


@register.simple_tag
def load_bar(load: Load, after: int = 0, widest: int = 0) -> SafeString:
    """What a therapist carries, dashed what is added (a cover, or one person more), the post at what they have."""
    return mark_safe(bars.load_bar(load.minutes, load.with_cover, after, load.capacity, widest))  # noqa: S308 - numbers only


@register.simple_tag
def wait_bar(wait: Wait) -> SafeString:
    """Days waited, the post at the limit of this urgency."""
    return mark_safe(bars.wait_bar(wait.days, wait.limit))  # noqa: S308 - numbers only


@register.filter
def hours(minutes: int) -> str:
    """Minutes as '12 h' or '12.5 h'."""
    return words.hours(minutes)


@register.filter
def side(value: str) -> str:
    """A side of the body in words; nothing where it is not known."""
    return words.side_words(value)


@register.filter
def bench_form(device: Device, kind: str) -> str:
    """Where a new part of a kind is fitted to a prosthesis, for the record as well."""
    return places.bench_form(device.episode_id, kind, device.side)
