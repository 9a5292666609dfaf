"""One process with the core in JavaScript for all comparisons."""

from collections.abc import Iterator

import pytest

from tests.core_js.node import JavaScript, Python, javascript, python


@pytest.fixture(scope="session")
def js() -> Iterator[JavaScript]:
    with javascript() as process:
        yield process


@pytest.fixture(scope="session")
def py() -> Iterator[Python]:
    with python() as core:
        yield core


@pytest.fixture(scope="session")
def histories(request: pytest.FixtureRequest) -> int:
    """How many random histories are compared in all."""
    return int(request.config.getoption("--histories"))
