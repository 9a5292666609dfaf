"""A table of words that speaks the reader's language whenever a word is looked up, and never before."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from django.utils.translation import gettext, pgettext


def pgettext_noop(context: str, word: str) -> str:
    """Mark a word of a table whose `Spoken` has this context; the word itself stays as it is."""
    return word


class Spoken(Mapping[str, str]):
    """Key → word. Words are marked where they are written (`gettext_noop`); `english` keeps them as they stand there.

    What is signed, hashed or kept uses `english`: its bytes are the same whoever reads.
    """

    def __init__(self, words: Mapping[str, str], context: str = "") -> None:
        self.english: Mapping[str, str] = dict(words)
        self._context = context

    def __getitem__(self, key: str) -> str:
        word = self.english[key]
        return pgettext(self._context, word) if self._context else gettext(word)

    def __iter__(self) -> Iterator[str]:
        return iter(self.english)

    def __len__(self) -> int:
        return len(self.english)


class SpokenPairs(Mapping[str, tuple[str, str]]):
    """The same with two words a key."""

    def __init__(self, first: Spoken, second: Spoken) -> None:
        self.first, self.second = first, second

    def __getitem__(self, key: str) -> tuple[str, str]:
        return self.first[key], self.second[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self.first)

    def __len__(self) -> int:
        return len(self.first)
