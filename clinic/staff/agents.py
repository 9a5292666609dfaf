"""What kind of device a request says that it comes from, in three words at most. Pure.

Nothing is decided by it: a browser may say what it likes. It helps somebody to recognise their own sessions.
"""

from __future__ import annotations

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
