"""A server for pages with made-up pictures. It needs no database, so it stays for all tests."""

from collections.abc import Callable, Iterator

import pytest
from django.test import override_settings
from playwright.sync_api import Browser, Page
from pytest_django.live_server_helper import LiveServer

from tests.browser.conftest import Watch
from tests.browser.viewer import pictures

# A picture that cannot be fetched or read, on purpose.
FAILS = ["the server responded with a status of 503", "the server responded with a status of 422"]


@pytest.fixture(scope="package")
def page_of_pictures(browser: Browser) -> Iterator[Page]:
    """One page of a browser; errors in it, or requests to elsewhere, fail the last test."""
    with override_settings(ROOT_URLCONF=pictures.__name__, ALLOWED_HOSTS=["localhost"]):
        server = LiveServer("localhost")
        watching = Watch(browser, server.url, allowed=FAILS)
        yield watching.open(None)
        for context in watching.contexts:
            context.close()
        server.stop()
    assert not watching.faults()


@pytest.fixture
def opened(page_of_pictures: Page) -> Callable[[str], Page]:
    """`opened("marked")` opens one of the pages and waits for its picture."""

    def open_page(name: str) -> Page:
        page_of_pictures.goto(f"/viewer/{name}")
        page_of_pictures.locator(".viewer--ready").wait_for()
        if name != "broken":
            page_of_pictures.locator(".stage:not(.stage--waiting)").first.wait_for()
        return page_of_pictures

    return open_page
