"""Browsers of people who have come in, as in tests/web; and every address of the programme with something behind it."""

from tests.web.conftest import enter
from tests.web.test_every_address import world

__all__ = ["enter", "world"]
