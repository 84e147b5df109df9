"""Real Chromium for the journeys. It is the system's own browser; nothing is downloaded."""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, Request, expect, sync_playwright

from register.models import User

# The page and the test share one thread; the sync API runs inside an event loop.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
SLOW_MS = 60_000  # a busy machine is no fault
expect.set_options(timeout=SLOW_MS / 2)
# A refused form answers 422; the browser reports it as a failed load, which is no fault.
REFUSED = "the server responded with a status of 422"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """One browser for the whole run."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.fail("Chromium is missing. Install it: apt-get install chromium")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()


@dataclass
class Watch:
    """Opens pages and collects what goes wrong in them.

    The browser tells a breach of the content security policy as an error of the
    console; a request to another address is a fault of its own. `allowed` are
    pieces of errors that a test provokes on purpose.
    """

    browser: Browser
    address: str
    contexts: list[BrowserContext] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    allowed: list[str] = field(default_factory=lambda: [REFUSED])

    def open(self, user: User | None, width: int = 1280, height: int = 900) -> Page:
        """Open a page, signed in as somebody or as nobody."""
        context = self.browser.new_context(
            base_url=self.address, viewport={"width": width, "height": height}
        )
        context.set_default_timeout(SLOW_MS)
        self.contexts.append(context)
        if user is not None:
            client = Client()
            client.force_login(user, backend=settings.AUTHENTICATION_BACKENDS[-1])
            name = settings.SESSION_COOKIE_NAME
            value = client.cookies[name].value
            context.add_cookies([{"name": name, "value": value, "url": self.address}])
        page = context.new_page()
        page.on("pageerror", lambda error: self.problems.append(str(error)))
        page.on("console", lambda said: said.type == "error" and self.problems.append(said.text))
        page.on("request", self._asked)
        return page

    def faults(self) -> list[str]:
        """Return what went wrong and was not provoked."""
        return [text for text in self.problems if not any(part in text for part in self.allowed)]

    def _asked(self, request: Request) -> None:
        if not request.url.startswith((self.address, "data:", "blob:", "about:")):
            self.problems.append(f"asked for {request.url}")


@pytest.fixture
def watch(browser: Browser, live_server) -> Iterator[Watch]:
    """`watch.open(user)` opens a page; errors in it fail the test."""
    watching = Watch(browser, live_server.url)
    yield watching
    for context in watching.contexts:
        context.close()
    assert not watching.faults()


@pytest.fixture
def signed_in(watch: Watch) -> Callable[..., Page]:
    """`signed_in(user)` opens a page of that person; errors in the page fail the test."""
    return watch.open


@pytest.fixture
def picture() -> Callable[[Page, str], object]:
    """`picture(page, "name")` keeps a screenshot where REGISTER_PICTURES says; else nothing."""
    where = os.environ.get("REGISTER_PICTURES")
    if not where:
        return lambda page, name: None
    folder = Path(where)
    folder.mkdir(parents=True, exist_ok=True)
    return lambda page, name: page.screenshot(path=folder / f"{name}.png", full_page=True)
