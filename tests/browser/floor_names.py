"""How the Floor's controls are called, as the browser tells a screen reader: from its accessibility tree."""

from __future__ import annotations

from collections import Counter
from typing import Any

from playwright.sync_api import Page

CONTROLS = {
    "button",
    "checkbox",
    "combobox",
    "DisclosureTriangle",
    "link",
    "radio",
    "slider",
    "spinbutton",
    "switch",
    "textbox",
}
# signs and single words that say nothing without what stands beside them
BARE = {"", "+", "−", "+1", "+5", "−1", "start", "stop", "enter", "read", "good", "not good", "clear", "lap", "measure"}


def tree(page: Page) -> list[dict[str, Any]]:
    """The nodes of the accessibility tree that are not left out."""
    session = page.context.new_cdp_session(page)
    nodes: list[dict[str, Any]] = session.send("Accessibility.getFullAXTree")["nodes"]
    session.detach()
    return [node for node in nodes if not node.get("ignored")]


def _said(node: dict[str, Any], what: str) -> str:
    return str(node.get(what, {}).get("value", "")).strip()


def names(page: Page) -> list[str]:
    """The name of every control, as it is read out."""
    return [_said(node, "name") for node in tree(page) if _said(node, "role") in CONTROLS]


def faults_of_names(page: Page, state: str) -> list[str]:
    """A control without a name of its own: one line each."""
    called = names(page)
    if len(called) < 2:
        return [f"{state}: only {len(called)} controls in the tree"]
    bare = [f"{state}: '{name}' says nothing" for name in called if name.lower() in BARE]
    twice = [f"{state}: {count} controls are called '{name}'" for name, count in Counter(called).items() if count > 1]
    return bare + twice
