"""One scenario for all tests of this folder; it takes part of a second."""

from datetime import date

import pytest

from reports.demo.book import Book
from reports.demo.scenario import make_scenario

TODAY = date(2027, 3, 7)


@pytest.fixture(scope="session")
def book() -> Book:
    """The scenario as the demo loads it, on a fixed day."""
    return make_scenario(today=TODAY)
