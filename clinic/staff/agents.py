"""What kind of device a request says that it comes from, in three words at most.

Nothing is decided by it: a browser may say what it likes. It helps somebody to recognise their own sessions.
"""

from __future__ import annotations

from django.utils.translation import gettext_lazy

from clinic.language.text import Text

# the first that fits: later words stand inside earlier families' own texts
_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("Chrome/", "Chromium"),
    ("CriOS/", "Chromium"),
    ("Safari/", "Safari"),
)
_SYSTEMS = (
    ("iPad", "tablet, iPadOS"),
    ("iPhone", "phone, iOS"),
    ("Windows", "computer, Windows"),
    ("CrOS", "computer, ChromeOS"),
    ("Macintosh", "computer, macOS"),
    ("X11; Linux", "computer, Linux"),
)

_WORDS: dict[str, Text] = {
    "phone": gettext_lazy("phone"),
    "tablet": gettext_lazy("tablet"),
    "computer": gettext_lazy("computer"),
    "programme": gettext_lazy("programme"),
    "device": gettext_lazy("device"),
    "browser": gettext_lazy("browser"),
    "unknown": gettext_lazy("unknown"),
}


def kind_of_device(agent: str) -> str:
    """'tablet, Android, Chromium'; 'programme' and the first word where no browser speaks; 'unknown' where nobody."""
    agent = agent[:1000]
    if not agent.strip():
        return "unknown"
    if "Mozilla/" not in agent:
        word = agent.split()[0].split("/")[0]
        return f"programme, {''.join(letter for letter in word if letter.isalnum() or letter in '-_.')[:40]}"
    browser = next((name for mark, name in _BROWSERS if mark in agent), "browser")
    return f"{_system(agent)}, {browser}"


def _system(agent: str) -> str:
    if "Android" in agent:
        return "phone, Android" if "Mobile" in agent else "tablet, Android"
    return next((name for mark, name in _SYSTEMS if mark in agent), "device")


def said(kept: str) -> str:
    """What is kept of a device, in the language that is read: its words, not the names of systems and browsers."""
    return ", ".join(str(_WORDS.get(part, part)) for part in kept.split(", "))
