"""The type of a text that may be said only when it is read (`gettext_lazy`); `str()` says it now."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

Text: TypeAlias = "_StrOrPromise"
