"""One process with the core in JavaScript for all comparisons."""

from collections import Counter
from collections.abc import Callable, Iterator

import pytest

from tests.core_js.counting import COUNTED
from tests.core_js.node import JavaScript, Python, javascript, python


@pytest.fixture(scope="session")
def js() -> Iterator[JavaScript]:
    with javascript() as process:
        yield process


@pytest.fixture(scope="session")
def py() -> Iterator[Python]:
    with python() as core:
        yield core


@pytest.fixture
def counted(record_property: Callable[[str, object], None]) -> Callable[[str, Counter[str]], None]:
    """Tells the summary at the end how many things were compared, and where."""

    def tell(where: str, many: Counter[str]) -> None:
        assert many["reports"] > 0
        record_property(f"{COUNTED}{where}", dict(many))

    return tell


@pytest.fixture(scope="session")
def histories(request: pytest.FixtureRequest) -> int:
    """How many random histories are compared in all."""
    return int(request.config.getoption("--histories"))
