"""The description of the API, put together once a language: it is the same for everybody, and making it takes longer
than most answers. Whoever asks for it again and again, and strangers may, costs the server no more than sending it."""

from __future__ import annotations

from functools import cache
from typing import Any

from django.conf import settings
from django.utils import translation
from drf_spectacular.generators import SchemaGenerator


class Description(SchemaGenerator):
    """The library's, which remembers the whole of it. In a language or with a version that is none of ours, of which a
    caller may name any number, it is made and forgotten."""

    def get_schema(self, request: Any = None, public: bool = False) -> dict[str, Any]:
        """The description; whoever gets it does not change it."""
        language = translation.get_language()
        whole = public and not (self.api_version or self.patterns or self.urlconf)
        if whole and language in dict(settings.LANGUAGES):
            return _public(language)
        inherited: Any = super()
        described: dict[str, Any] = inherited.get_schema(request, public)
        return described


@cache
def _public(language: str) -> dict[str, Any]:
    """As somebody reads it who is not signed in."""
    generator: Any = SchemaGenerator
    with translation.override(language):
        described: dict[str, Any] = generator().get_schema(public=True)
        return described
