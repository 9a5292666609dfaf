"""The readable page of a bundle, made from its proven parts alone: it can be made again and compared."""

from __future__ import annotations

import json
from typing import Any

from checklists.proof.offline.notes import Said

STYLE = """
:root { color-scheme: light dark }
body { font: 1rem/1.5 system-ui, sans-serif; max-width: 46rem; margin: 2rem auto; padding: 0 1rem }
h1 { font-size: 1.4rem } h2 { font-size: 1.05rem; margin: 1.6rem 0 .3rem }
dl { display: grid; grid-template-columns: 11rem 1fr; gap: .15rem 1rem; margin: 0 }
dt { opacity: .75 } dd { margin: 0; overflow-wrap: anywhere; white-space: pre-line } section { break-inside: avoid }
.note { border-left: .25rem solid; padding-left: .8rem }
@media print { body { margin: 0; max-width: none; font-size: 10pt } }
"""
FOREWORD = (
    "This page is for reading and prints as it is. It proves nothing by itself: verify.py in the same bundle, or the "
    "clinic's page for checking, says whether it is what the sealed record holds. Thresholds in a protocol are the "
    "clinic's own; local policy and the judgement of licensed staff come first."
)
HEAD = ("id", "kind", "at", "by", "role", "episode")


def page(bundle: Said) -> str:
    """The page, byte for byte."""
    about = bundle["about"]
    what = "one sign-off" if about["kind"] == "sign_off" else "one episode"
    title = f"Record of {what}: {about['episode_reference']}"
    parts = [
        '<!doctype html>\n<html lang="en">\n<meta charset="utf-8">\n',
        '<meta name="viewport" content="width=device-width">\n',
        f"<title>{escaped(title)}</title>\n<style>{STYLE}</style>\n<h1>{escaped(title)}</h1>\n",
        f'<p class="note">{escaped(FOREWORD)}</p>\n',
    ]
    parts += [_entry(one) for one in bundle["entries"]]
    return "".join(parts) + "</html>\n"


def _entry(one: Said) -> str:
    """One entry: what the sealed row says, and what the content says."""
    row = json.loads(one["row"])
    rows = [("Received", row["received_at"]), ("Entry", row["id"])]
    if one["content"] is None:
        title = f"{_words(row['kind'])}, {row['at']}"
        rows.append(("Content", f"erased: {one['erased']}"))
    else:
        said = json.loads(one["content"], parse_float=str)
        title = f"{_words(said['kind'])}, {said['at']}, by {said['by']}"
        rows += [("Role", _words(said["role"]))] if "role" in said else []
        rows += [(_words(name), plain(said[name])) for name in ordered(said) if name not in HEAD]
    if one["signed"] is not None:
        text = json.loads(one["signed"]["signature"])
        rows.append(("Signed by", _by(text["signer"], text["meaning"], text["shown"])))
        if "countersigner" in text:
            second = text["countersigner"]
            rows.append(("Countersigned by", _by(second, second["meaning"], second["shown"])))
        evidence = json.loads(one["signed"]["evidence"], parse_float=str)
        rows += [(f"Shown: {name.replace('_', ' ')}", plain(evidence[name])) for name in ordered(evidence)]
    listed = "".join(f"<dt>{escaped(name)}</dt><dd>{escaped(value)}</dd>\n" for name, value in rows)
    return f"<section>\n<h2>{escaped(title)}</h2>\n<dl>\n{listed}</dl>\n</section>\n"


def _by(who: Said, meaning: str, shown: str) -> str:
    """A printed name with its meaning, and how they had shown who they were."""
    return f"{who['name']} ({who['reference']}, {plain(who['role']).replace('_', ' ')}): {meaning}; shown by {shown}"


def plain(value: Any) -> str:
    """A value in words; things with parts one a line."""
    if value in ({}, []):
        return "none"
    if isinstance(value, dict):
        return "; ".join(f"{_words(name)}: {plain(value[name])}" for name in ordered(value))
    if isinstance(value, list):
        return ("\n" if isinstance(value[0], dict) else ", ").join(plain(one) for one in value)
    if value is None or value is True or value is False:
        return {None: "none", True: "yes", False: "no"}[value]
    return str(value)


def ordered(said: Said) -> list[str]:
    """Names in the order of their UTF-16 code units, as canonical JSON has them."""
    return sorted(said, key=lambda name: name.encode("utf-16-be"))


def escaped(text: str) -> str:
    """Text as HTML."""
    for character, written in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;"), ("'", "&#x27;")):
        text = text.replace(character, written)
    return text


def _words(name: str) -> str:
    """`sign_off` → `Sign off`."""
    text = name.replace("_", " ")
    return text[:1].upper() + text[1:]
