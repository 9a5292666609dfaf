"""Texts of a template or a script that are not marked for translation: what a reader would meet in English."""

from __future__ import annotations

import re
from collections.abc import Iterator

WORD = re.compile(r"[A-Za-z]{2,}")
_SPOKEN_ATTRIBUTE = re.compile(r"\b(?:aria-label|aria-description|title|placeholder|alt|data-head)=\"([^\"]*)\"")
_MARKED = re.compile(r"\{%\s*blocktrans(?:late)?\b.*?\{%\s*endblocktrans(?:late)?\s*%\}", re.S)
_COMMENT = re.compile(r"\{#.*?#\}|\{%\s*comment.*?endcomment\s*%\}|<!--.*?-->", re.S)
_NOT_READ = re.compile(r"<(code|style|script)\b.*?</\1>", re.S)
_TAG = re.compile(r"\{%.*?%\}|\{\{.*?\}\}", re.S)
# a literal that a tag puts on the page: {% say "mark" "words" %}, {% note "kind" "head" %}, {% field f "label" %}
_SAID_BY_TAG = re.compile(r"\{%\s*(?:say|note|field)\s+\S+\s+\"([^\"]*)\"|\|default:\"([^\"]*)\"|\|yesno:\"([^\"]*)\"")
_MARKUP = re.compile(r"</?[a-zA-Z](?:\"[^\"]*\"|[^<>\"])*>|<!doctype[^>]*>", re.S)
_CLASS_OF_A_BLOCK = re.compile(r"\{% block (?:layout|body_class) %\}.*?\{% endblock %\}", re.S)


def in_template(source: str) -> Iterator[str]:
    """Words of a template that are on the page and in no translate tag."""
    source = _COMMENT.sub("", _MARKED.sub("", source))
    for said in _SAID_BY_TAG.finditer(source):
        yield from (text for text in said.groups() if text and WORD.search(text))
    source = _CLASS_OF_A_BLOCK.sub("", _NOT_READ.sub("", source))
    bare = _TAG.sub("", source)
    yield from (text for text in _SPOKEN_ATTRIBUTE.findall(bare) if WORD.search(text))
    for piece in re.split(r"\n|\s{2,}|\x00", _MARKUP.sub("\x00", bare)):
        if WORD.search(re.sub(r"&\w+;", "", piece)):
            yield piece.strip()


_LITERAL = re.compile(r"""(?P<q>["'`])(?P<text>(?:\\.|(?!(?P=q)).)*)(?P=q)""")
_SCRIPT_COMMENT = re.compile(r"(?<![:\"'`])//[^\n]*|/\*.*?\*/", re.S)
# what is put before a reader: a child or a text of an element, a name for who cannot see it, a title
_SHOWN = re.compile(
    r"""(?:textContent\s*=|innerText\s*=|"aria-label"\s*[:,]|ariaLabel\s*=|\btitle\s*:|\blabel\s*:|\bplaceholder\s*:)\s*$"""
)


def in_script(source: str) -> Iterator[str]:
    """Literals of a script that a reader would see or hear: a sentence (a capital, then words), or anything that is put
    where it is shown, outside gettext and its kin. A heuristic: a word by itself may pass where it is put elsewhere."""
    source = _SCRIPT_COMMENT.sub("", source)
    for literal in _LITERAL.finditer(source):
        text, before = literal["text"], source[max(0, literal.start() - 400) : literal.start()]
        words = re.sub(r"\$\{[^}]*\}", "", text)
        if re.search(r"(?:gettext|_)\(\s*(?:[\"'`][^\"'`]*[\"'`]\s*,\s*)*$", before) or not WORD.search(words):
            continue
        sentence = re.match(r"[A-Z‘“][a-z’]*[ ,:].*[a-z]{2}", words)
        if sentence or (_SHOWN.search(before) and re.search(r"[a-z]{2}", words)):
            yield text
