"""One reading process for all tests of pictures."""

import pytest

from register.images import child


@pytest.fixture(scope="session", autouse=True)
def reading_process():
    """End the process with the tests, so that none is left behind."""
    yield
    child.stop()


@pytest.fixture
def refusal():
    """`refusal(content)` is the code with which a file is refused; '' when it is read."""

    def of(content):
        (found,) = child.index([("file", content)])
        return getattr(found, "code", "")

    return of
