"""Reading JSON: quickly where it is plain, and so that one odd text spoils one entry and not the batch."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any

import orjson
from django.utils.translation import gettext as _
from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class FastJsonParser(JSONParser):
    """orjson; where it refuses, the standard library, which reads half a character or NaN, for the checks to refuse."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """The value, or ParseError with a sentence."""
        body: bytes = stream.read()
        try:
            return orjson.loads(body)
        except orjson.JSONDecodeError:
            pass
        try:
            return json.loads(body.decode())
        except UnicodeDecodeError as error:
            raise ParseError(_("The body is not UTF-8. Nothing was taken.")) from error
        except RecursionError as error:
            raise ParseError(_("The body is nested too deeply. Nothing was taken.")) from error
        except ValueError as error:
            raise ParseError(_("The body is not JSON ({error}). Nothing was taken.").format(error=error)) from error
