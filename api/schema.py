"""How the API describes itself (OpenAPI 3.1): every error that an operation can give is a problem (RFC 9457)."""

from __future__ import annotations

import re
from typing import Any

from drf_spectacular.contrib.knox_auth_token import KnoxTokenScheme
from drf_standardized_errors.openapi import AutoSchema as ErrorDocumentingSchema

from api.problems import MEDIA_TYPE


class SessionTokenScheme(KnoxTokenScheme):  # type: ignore[no-untyped-call]  # has no types
    """Our tokens are sent as the library's are."""

    target_class = "api.authentication.SessionToken"


class Schema(ErrorDocumentingSchema):
    """Errors are documented as problem details."""

    def _get_response_for_code(
        self, serializer: Any, status_code: Any, media_types: Any = None, direction: Any = "response"
    ) -> Any:
        if str(status_code) >= "400":
            media_types = [MEDIA_TYPE]
        inherited: Any = super()
        return inherited._get_response_for_code(serializer, status_code, media_types, direction)

    def _should_add_error_response(self, responses: dict[str, Any], status_code: str) -> bool:
        """Every operation can be refused by its service in every one of these ways."""
        return status_code not in responses

    def get_operation_id(self) -> str:
        """`referrals_get`: the endpoint's name and the method, unique and stable."""
        return f"{camel_to_snake(type(self.view).__name__)}_{self.method.lower()}"


def camel_to_snake(name: str) -> str:
    """OnePerson → one_person."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", name).lower()
