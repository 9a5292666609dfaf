"""Template tags of the gym's pages: {% load pictures %}.

{% staircase treads support uid="st" title="…" next_key="…" href="#skill-{key}" %}
{% ministair treads title="…" next_key="…" %} · {% ministair_key %}
{% knee "locked" "set" 64 %} decorative (the words stand beside it) · {% rail_words tread %} · {{ "bars_one"|rung }}
{{ "bars_one"|rung_head }} · {{ "stand_by"|helped }} · {{ "ramp_down"|skill_name }} · {{ "ready"|status_words }}
{{ sentence|said }} a sentence of the core for the reader · {{ "critical"|worded:"severity" }} · {{ day|weekday }}
The drawings are our own and escape every text where it enters them: that is what makes them safe to insert.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from html import unescape

from django import template
from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext, pgettext

from checklists import pictures
from checklists.pictures import names, words
from checklists.pictures.tread import rail_words as say_rail
from checklists.words import said as say_sentence
from checklists.words.tables import worded as say_value

register = template.Library()


@register.simple_tag
def staircase(
    treads: Sequence[pictures.Tread],
    support: Sequence[str],
    uid: str = "stairs",
    title: str = "",
    next_key: str = "",
    href: str = "",
) -> SafeString:
    """The staircase of a person."""
    # a text that a template made is escaped already; the drawing escapes whatever it is given
    title = unescape(title) if isinstance(title, SafeString) else title or gettext("Staircase of skills")
    drawn = pictures.staircase(
        treads, support=support, uid=uid, title=title, next_key=next_key or None, href=href or None
    )
    return SafeString(drawn)


@register.simple_tag
def ministair(treads: Sequence[pictures.Tread], title: str = "", next_key: str = "") -> SafeString:
    """The staircase small, for a row of a list."""
    return SafeString(pictures.ministair(treads, title=title, next_key=next_key or None))


@register.simple_tag
def ministair_key() -> SafeString:
    """What the pillars of the small staircase mean, in one line."""
    return SafeString(pictures.ministair_key())


@register.simple_tag
def knee(mode: str | None, proof: str | None = "set", size: int = 64) -> SafeString:
    """The knee glyph where its words stand beside it."""
    return SafeString(pictures.knee(mode or "unknown", proof or "set", size=size, decorative=True))


@register.simple_tag
def rail_words(tread: pictures.Tread) -> str:
    """What the handrail of a tread shows, in one sentence."""
    return say_rail(tread)


@register.filter
def rung(key: str) -> str:
    """A rung of support in words."""
    return words.WORDS.rung(key)


@register.filter
def rung_head(key: str) -> str:
    """A rung of support in the words of a narrow column; “none” alone would read as nothing proven."""
    return words.WORDS.rung(key) if key == "none" else words.WORDS.head(key)


@register.filter
def status_words(key: str) -> str:
    """A skill's status in words."""
    return words.STATUS.get(key, key)


@register.filter
def helped(key: str) -> str:
    """A degree of help in words."""
    return words.HELP.get(key, key.replace("_", " "))


@register.filter
def skill_name(key: str) -> str:
    """A skill's short name."""
    return names.short(key, key.replace("_", " "))


@register.filter
def said(sentence: str) -> str:
    """A sentence of the core, the record or the protocol in the reader's language."""
    return say_sentence(sentence)


@register.filter
def worded(key: str | None, table: str) -> str:
    """A value of a closed list in words (checklists.words.tables)."""
    return say_value(key or "", table)


@register.filter
def weekday(day: date) -> str:
    """Thursday 26 November."""
    return date_format(day, pgettext("a day with its name, as Django's `date` takes it", "l j F"))
