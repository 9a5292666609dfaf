"""The API describes itself truly: the description is valid, and a fuzzer that reads it finds no answer beyond it.

Oracles: openapi-spec-validator (JSON Schema of OpenAPI 3.1 by the OpenAPI Initiative) and schemathesis (property-based;
its own checks: no server error, status, media type and body as described, authentication not ignored).
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from functools import cache
from typing import Any
from uuid import UUID

import pytest
import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from django.test import Client
from django.utils import translation
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openapi_spec_validator import validate

from api import description
from api.description import Description
from clinic.staff.models import Staff
from clinic.wsgi import application
from tests.makers import (
    a_lead,
    a_prosthetist,
    a_referral,
    a_therapist,
    a_token,
    an_episode,
    in_through_the_door,
)

# Our own rules refuse more than a shape can say (a last day before the first, a site that is not there): 403, 409, 412
# and 422 are then the right answers to data that fits the shape, so "positive data is accepted" is not asked.
LEFT_OUT = ("positive_data_acceptance", "missing_required_header", "unsupported_method")


def specification() -> dict[str, Any]:
    """The description as `GET /api/v1/schema/` gives it."""
    generator: Any = Description
    spec: dict[str, Any] = generator().get_schema(public=True)
    return spec


@cache
def described() -> Any:
    """The description, as the running programme gives it, bound to the programme."""
    schema = schemathesis.openapi.from_dict(deepcopy(specification()))
    schema.app = application
    return schema


def operations() -> list[Any]:
    """Every operation of the description."""
    return [result.ok() for result in described().get_all_operations()]


def test_the_description_is_valid() -> None:
    """OpenAPI 3.1, and nothing in it is left dangling."""
    spec = specification()
    validate(spec)
    assert spec["openapi"].startswith("3.1")


def _sent(browser: Client, language: str, rest: str = "") -> Any:
    """What the address of the description answers in a language."""
    return browser.get(f"/api/v1/schema/{rest}", headers={"Accept-Language": language}).json()


@pytest.mark.django_db
@pytest.mark.parametrize("language", ["en-gb", "es"])
def test_whoever_asks_for_the_description_gets_the_one_that_the_library_makes(language: str) -> None:
    """It is remembered, by its language: made anew for who asks it is the same."""
    generator: Any = SchemaGenerator
    lead = Client()
    in_through_the_door(lead, a_lead())
    with translation.override(language):
        made = generator().get_schema(public=True)
    for browser in (Client(), lead):
        assert _sent(browser, language) == made
    assert _sent(Client(), language, "?version=7")["info"]["version"] == "1 (7)"
    assert _sent(Client(), language) == made


@pytest.mark.django_db
def test_the_description_is_made_once_a_language(monkeypatch: pytest.MonkeyPatch) -> None:
    """Strangers may ask for it, and making it takes longer than most answers."""
    for language in ("en-gb", "es"):
        _sent(Client(), language)

    def made_again(*given: Any, **named: Any) -> None:
        raise AssertionError("made again")

    monkeypatch.setattr(SchemaGenerator, "parse", made_again)
    for language in ("en-gb", "es", "en-gb"):
        _sent(Client(), language)


@pytest.mark.django_db
def test_a_description_in_a_language_that_is_none_of_ours_is_not_remembered() -> None:
    """Of those a stranger may name any number, and each would be kept for good."""
    _sent(Client(), "en-gb")
    kept = description._public.cache_info().currsize
    for language in ("de", "fr", "nl"):
        assert _sent(Client(), "en-gb", f"?lang={language}")["openapi"].startswith("3.1")
    assert description._public.cache_info().currsize == kept


@pytest.fixture
def ids(db: None) -> dict[str, UUID]:
    """Things that exist, so that the fuzzer gets further than 'not found'."""
    therapist = a_therapist()
    episode = an_episode(assigned_to=therapist)
    return {
        "episode_id": episode.pk,
        "person_id": episode.person_id,
        "referral_id": a_referral().pk,
        "staff_id": therapist.pk,
        "therapist_id": therapist.pk,
        "site_id": therapist.site_id,
    }


@pytest.fixture(autouse=True)
def _one_connection() -> Iterator[None]:
    """The programme's own WSGI door is used; it must not close the connection that holds the test's transaction."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture(params=["lead", "prosthetist"])
def caller(request: pytest.FixtureRequest, db: None) -> Staff:
    """Who fuzzes."""
    return {"lead": a_lead, "prosthetist": a_prosthetist}[request.param]()


@pytest.mark.slow
@pytest.mark.parametrize("operation", operations(), ids=lambda operation: operation.label)
def test_nothing_is_answered_beyond_the_description(operation: Any, caller: Staff, ids: dict[str, UUID]) -> None:
    """Whatever is sent, the answer is one that the description allows, and never a fault."""
    token = f"Token {a_token(caller)}"

    @settings(max_examples=8, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck), database=None)
    @given(case=operation.as_strategy(), real=st.booleans())
    def fuzz(case: Any, real: bool) -> None:
        if real:
            case.path_parameters |= {name: str(ids[name]) for name in case.path_parameters if name in ids}
        left_out = [check for check in schemathesis.checks.CHECKS.get_all() if check.__name__ in LEFT_OUT]
        case.call_and_validate(headers={"Authorization": token}, excluded_checks=left_out)

    fuzz()
