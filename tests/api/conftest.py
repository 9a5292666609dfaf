"""Callers of the API, each with a token of their own."""

from collections.abc import Callable
from typing import Any

import pytest
from rest_framework.test import APIClient

from clinic.staff.models import Staff
from tests.makers import a_token

Caller = Callable[[Staff], APIClient]


@pytest.fixture
def calling(db: None) -> Caller:
    """`calling(staff)`: a client that speaks JSON and carries a token of this member of staff."""

    def client(staff: Staff) -> APIClient:
        made = APIClient(raise_request_exception=False)
        made.credentials(HTTP_AUTHORIZATION=f"Token {a_token(staff)}")
        made.default_format = "json"
        return made

    return client


@pytest.fixture
def stranger(db: None) -> APIClient:
    """Somebody without a token."""
    return APIClient(raise_request_exception=False)


def body(response: Any) -> Any:
    """The JSON of an answer."""
    return response.json()
