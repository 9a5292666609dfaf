"""Template tags that every page has without loading them (`builtins` in the settings).

{% logo %} · {% mark "ready" %} · {% say "lapsed" %} · {% say "critical" "3 over" %}
{% note "check" "Not proven" %}<p>…</p>{% endnote %}           kinds: good, yours, check, stop
{% field form.name %}                                          label, control, help and faults; choices become keys
{% pages page %}                                               newer and older of a clinic.web.pages.Page
{% preload "a/main.js" "b/shell.js" %}                         these modules and all that they import, asked for at once
{{ instant|moment }} 25 Nov 2026, 14:05 · {{ instant|when }} today 14:05 · {{ instant|clock }} 14:05 ·
{{ day|day }} 25 Nov 2026: all of them where the clocks of the reader's site stand
"""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Any

from django import forms, template
from django.forms.boundfield import BoundField
from django.templatetags.static import static
from django.utils import timezone
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import pgettext

from clinic import clock
from clinic.audit import details
from clinic.language import dates
from clinic.web import marks, modules

register = template.Library()
_ID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}")
_CHOICES = (forms.RadioSelect, forms.CheckboxSelectMultiple)


@register.simple_tag
def logo() -> SafeString:
    """Our own sign."""
    return mark_safe(marks.logo())  # noqa: S308 - our own drawing


@register.simple_tag
def preload(*names: str) -> SafeString:
    """For the head of a page that must start quickly: its modules and all that they import."""
    found = ((static(name),) for name in modules.stands_on(*names))
    return format_html_join("\n", '<link rel="modulepreload" href="{}">', found)


@register.simple_tag
def mark(name: str, size: int = 18) -> SafeString:
    """A mark without its word: only where the word stands beside it already."""
    return mark_safe(marks.mark(name, size))  # noqa: S308 - our own drawing, its name escaped


@register.simple_tag
def say(name: str, word: str = "") -> SafeString:
    """Mark and word."""
    return mark_safe(marks.say(name, str(word)))  # noqa: S308 - name and word are escaped there


@register.simple_block_tag
def note(content: str, kind: str, head: str = "", level: int = 0) -> SafeString:
    """A plate: its sign in a filled cell; then what it is, why, what to do now. `level` makes the head a heading."""
    tag = f"h{level}" if level else "p"
    heading = format_html(f'<{tag} class="note-head">{{}}</{tag}>', head) if head else ""
    return format_html(
        '<div class="note note-{}"><span class="note-sign">{}</span><div>{}{}</div></div>',
        kind,
        mark_safe(marks.mark(kind, 22)),  # noqa: S308 - our own drawing, its name escaped
        heading,
        content,
    )


@register.inclusion_tag("parts/field.html")
def field(bound: BoundField, label: str = "") -> dict[str, Any]:
    """One field of a form with everything that belongs to it."""
    widget = bound.field.widget
    kind = "keys" if isinstance(widget, _CHOICES) else "tick" if isinstance(widget, forms.CheckboxInput) else "line"
    return {"field": bound, "kind": kind, "label": label or bound.label}


@register.inclusion_tag("parts/pages.html", takes_context=True)
def pages(context: template.Context, page: Any) -> dict[str, Any]:
    """The way to newer and older rows."""
    return {"page": page, "request": context.get("request")}


def _local(at: datetime) -> datetime:
    return timezone.localtime(at) if timezone.is_aware(at) else at


@register.filter
def day(value: date | datetime | None) -> str:
    """25 Nov 2026: the month by name, so that nobody can read it the wrong way round."""
    if value is None:
        return ""
    local = _local(value) if isinstance(value, datetime) else value
    return dates.day(local)


@register.filter("clock")
def wall_clock(value: datetime | None) -> str:
    """14:05 in the site's zone."""
    return "" if value is None else dates.clock(_local(value))


@register.filter
def moment(value: datetime | None) -> str:
    """25 Nov 2026, 14:05 in the site's zone."""
    return "" if value is None else dates.moment(_local(value))


@register.filter
def when(value: datetime | None) -> str:
    """today 14:05 · 24 Nov, 14:05 · 24 Nov 2025, 14:05: as short as it can be and still be read one way only."""
    if value is None:
        return ""
    local, today = _local(value), _local(clock.now())
    if local.date() == today.date():
        return _("today {time}").format(time=dates.clock(local))
    return dates.moment_of_year(local) if local.year == today.year else dates.moment(local)


@register.filter
def plain(value: object, name: str = "") -> str:
    """A value out of JSON as a person writes it: lists with commas, yes and no and codes in words, the beginning of an
    id. `name`: of the detail that it is; what stands in `fields` are names themselves."""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, list | tuple):
        return ", ".join(plain(item, name) for item in value) or pgettext("nothing in a list", "none")
    if isinstance(value, dict):
        return "; ".join(f"{spoken(str(key))}: {plain(item, str(key))}" for key, item in value.items()) or pgettext(
            "nothing in a list", "none"
        )
    said = details.name_of if name == "fields" else details.value_of
    text = "–" if value is None else said(str(value))
    return f"{text[:8]}…" if _ID.fullmatch(text) else text


@register.filter
def spoken(name: str) -> str:
    """A kind of thing or the name of a detail, as the trail keeps them, in the reader's words."""
    return details.name_of(name)
