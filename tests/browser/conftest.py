"""Real Chromium for the journeys. It is the system's own browser; nothing is downloaded."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

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


@pytest.fixture
def signed_in(browser: Browser, live_server) -> Iterator:
    """`signed_in(user)` opens a page of that person; errors in the page fail the test."""
    contexts: list[BrowserContext] = []
    problems: list[str] = []

    def open_page(user: User, width: int = 1280, height: int = 900) -> Page:
        client = Client()
        client.force_login(user, backend=settings.AUTHENTICATION_BACKENDS[-1])
        context = browser.new_context(
            base_url=live_server.url, viewport={"width": width, "height": height}
        )
        name = settings.SESSION_COOKIE_NAME
        value = client.cookies[name].value
        context.add_cookies([{"name": name, "value": value, "url": live_server.url}])
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: problems.append(str(error)))
        page.on("console", lambda said: said.type == "error" and problems.append(said.text))
        return page

    yield open_page
    for context in contexts:
        context.close()
    # A refused form answers 422; the browser reports it as a failed load, which is no fault.
    faults = [text for text in problems if "422" not in text]
    assert not faults, faults


@pytest.fixture
def picture(tmp_path: Path):
    """`picture(page, "name")` keeps a screenshot, in REGISTER_PICTURES when that is set."""
    folder = Path(os.environ.get("REGISTER_PICTURES") or tmp_path)
    folder.mkdir(parents=True, exist_ok=True)
    return lambda page, name: page.screenshot(path=folder / f"{name}.png", full_page=True)
