"""What stands in a page that a strict policy forbids: found by a parser, so that it is found however it is written."""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser

LINKS = {"href", "src", "action", "formaction", "data", "poster", "xlink:href"}
SCHEMES = ("javascript:", "data:", "vbscript:")


class _Scan(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self._inside = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name.lower(): value or "" for name, value in attrs}
        self.found += [f"<{tag} {name}>" for name in given if name.startswith("on") or name in ("style", "srcdoc")]
        for name in LINKS & given.keys():
            address = "".join(given[name].split()).lower()
            if address.startswith(SCHEMES) or "//" in address[:8]:
                self.found.append(f"<{tag} {name}={address[:40]}>")
        if tag == "style":
            self.found.append("<style>")
        if tag == "script" and given.get("type", "") not in ("application/json", "importmap") and "src" not in given:
            self.found.append("<script> without src")
        if tag in ("base", "object", "embed", "iframe", "applet", "frame"):
            self.found.append(f"<{tag}>")


def forbidden(page: str) -> list[str]:
    """Every breach in a page."""
    scan = _Scan()
    scan.feed(page)
    return scan.found


def fields(page: str, kind: str) -> Iterator[dict[str, str]]:
    """The attributes of every `<input>` of a type."""

    class Fields(HTMLParser):
        def __init__(self) -> None:
            super().__init__()
            self.found: list[dict[str, str]] = []

        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            given = {name: value or "" for name, value in attrs}
            if tag == "input" and given.get("type") == kind:
                self.found.append(given)

    scan = Fields()
    scan.feed(page)
    yield from scan.found
