"""The viewer and the marking, in a real browser, on made-up pictures."""

import json

import pytest
from playwright.sync_api import Page, expect

from tests.browser import eyes, viewer_page
from tests.browser.viewer_page import SPACING, phantom

pytestmark = pytest.mark.urls("tests.browser.viewer_page")

TRUE = phantom().marks(SPACING)


@pytest.fixture
def opened(watch):
    """`opened("film")` opens a page and waits for its picture."""

    def open_page(name: str, width: int = 1280, **options) -> Page:
        page = watch.open(None, width=width, **options)
        page.goto(f"/viewer/{name}")
        page.locator(".stage:not(.stage--waiting)").first.wait_for()
        return page

    return open_page


def marks_of(page: Page) -> dict:
    """What the form would send."""
    return json.loads(page.locator("#id_marks").input_value() or "{}")


def point(page: Page, level: str, name: str):
    return page.locator(f'[data-point="{level} {name}"]')


def on_screen(page: Page, x: float, y: float) -> tuple[float, float]:
    """Where a pixel of the picture is on the screen, while the whole picture is shown."""
    box = page.locator("[data-marks]").first.bounding_box()
    zoom = 0.98 * min(box["width"] / 300, box["height"] / (400 * 4 / 3))
    left = box["x"] + box["width"] / 2 + (x - 149.5) * zoom
    return left, box["y"] + box["height"] / 2 + (y - 199.5) * zoom * 4 / 3


def test_look(opened, picture):
    page = opened("marked")
    picture(page, "viewer-marked")
    page = opened("empty")
    picture(page, "viewer-empty")
    page = opened("axial")
    picture(page, "viewer-axial")
    page = opened("series")
    page.wait_for_timeout(300)
    picture(page, "viewer-series")
    page = opened("uncalibrated", width=320)
    picture(page, "viewer-320")
