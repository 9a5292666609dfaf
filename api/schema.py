"""How the API describes itself (OpenAPI 3.1): every error that an operation can give is a problem (RFC 9457)."""

from __future__ import annotations

from typing import Any

from drf_standardized_errors.openapi import AutoSchema as ErrorDocumentingSchema

from api.problems import MEDIA_TYPE


class Schema(ErrorDocumentingSchema):
    """Errors are documented as problem details."""

    def _get_response_for_code(self, serializer: Any, status_code: Any, media_types: Any = None, **more: Any) -> Any:
        if str(status_code) >= "400":
            media_types = [MEDIA_TYPE]
        return super()._get_response_for_code(serializer, status_code, media_types, **more)
