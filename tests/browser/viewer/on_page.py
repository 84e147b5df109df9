"""Where things are on the pages of the viewer, and what their form would send."""

import json

from playwright.sync_api import Locator, Page

from tests.browser.viewer.pictures import COLUMNS, ROWS, SPACING


def sent(page: Page) -> dict:
    """The marks as the form would send them now."""
    return json.loads(page.locator("#id_marks").input_value() or "{}")


def point(page: Page, level: str, name: str) -> Locator:
    return page.locator(f'[data-point="{level} {name}"]')


def stage(page: Page) -> Locator:
    return page.locator("[data-marks]").first


def on_screen(page: Page, place: list[float], shown: float = 0.98) -> tuple[float, float]:
    """Where a pixel of the picture is, while the whole picture is shown."""
    box = stage(page).bounding_box()
    aspect = SPACING[0] / SPACING[1]
    zoom = shown * min(box["width"] / COLUMNS, box["height"] / (ROWS * aspect))
    left = box["x"] + box["width"] / 2 + (place[0] - (COLUMNS - 1) / 2) * zoom
    top = box["y"] + box["height"] / 2 + (place[1] - (ROWS - 1) / 2) * zoom * aspect
    return left, top


def grey_at(page: Page, place: list[float]) -> int:
    """How bright the picture is on the screen at one of its pixels."""
    x, y = on_screen(page, place)
    box = stage(page).bounding_box()
    drawn(page)
    return page.evaluate(
        "([x, y]) => document.querySelector('[data-picture]').getContext('2d')"
        ".getImageData(x, y, 1, 1).data[0]",
        [x - box["x"], y - box["y"]],
    )


def drawn(page: Page) -> None:
    """Wait until what was asked for is on the screen."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)))")
