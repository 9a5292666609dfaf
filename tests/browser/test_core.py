"""The core in JavaScript in a browser says what the core in Python says: the whole conformance set, and what is dealt.

Under the policy that every page has. `manage.py test tests/browser/test_core.py --histories 20000 -vv` deals as many, a
line for every thousand, and says at the end what was compared.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.core_js.comparing import compare
from tests.core_js.conftest import counted, histories
from tests.core_js.deck import conformance, dealt
from tests.core_js.served import served

__all__ = ["counted", "histories"]
Counted = Callable[..., None]
A_SHARE = 1_000


class Chromium:
    """The page that answers; what it complains of on its console is kept."""

    def __init__(self, page: Page, address: str) -> None:
        self._page = page
        self.complaints: list[str] = []
        page.on("console", lambda said: self.complaints.append(said.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        answer = page.goto(address)
        assert answer is not None
        self.policy = answer.headers["content-security-policy"]
        page.wait_for_function("document.title === 'ready'")

    def compared(self, asked: Sequence[dict[str, Any]]) -> Callable[[], list[dict[str, Any]]]:
        """What compared.mjs says of each; the page works on it until the answers are asked for."""
        self._page.evaluate("(asked) => begin(asked)", list(asked))
        return lambda: list(self._page.evaluate("answered()"))


@pytest.fixture
def chromium(browser: Browser) -> Iterator[Chromium]:
    context = browser.new_context()
    with served() as address:
        page = Chromium(context.new_page(), address)
        yield page
        context.close()
    assert page.complaints == []


def test_the_conformance_set(chromium: Chromium, counted: Counted) -> None:
    for directive in ("script-src 'self'", "require-trusted-types-for 'script'", "object-src 'none'"):
        assert directive in chromium.policy
    counted("Chromium, the conformance set", compare(conformance(), chromium.compared))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """One page a thousand: a run of many says how far it is, and can be spread over processes."""
    if "begin" in metafunc.fixturenames:
        metafunc.parametrize("begin", range(0, int(metafunc.config.getoption("--histories")), A_SHARE))


@pytest.mark.timeout(4 * 3600)
def test_documents_and_histories(begin: int, chromium: Chromium, histories: int, counted: Counted) -> None:
    numbers = range(begin, min(begin + A_SHARE, histories))
    counted("Chromium", compare(map(dealt, numbers), chromium.compared))
