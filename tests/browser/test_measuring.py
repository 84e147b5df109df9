"""A film is opened, marked by hand, saved; the record has the numbers that the page showed."""

import json
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils.timezone import localdate
from playwright.sync_api import Page, expect

from register.history import acting
from register.models import Draft, ImageFrame, Measurement, Study, User
from tests.browser.hands import Keyboard, press, told
from tests.factories import make_fracture, make_patient, make_referral, make_site, make_user
from tests.pictures import SPACING, column, confirm_numbering, make_series

TRUE = column().marks(SPACING)["L1"]
KEPT = ("upper_anterior", "upper_posterior", "lower_posterior")


@pytest.fixture
def consultant(transactional_db) -> User:
    with acting("test"):
        return make_user(make_site(), "consultant")


@pytest.fixture
def frame(consultant) -> ImageFrame:
    with acting("test"):
        patient = make_patient(consultant.site, family_name="Arden")
        make_fracture(make_referral(patient), level="L1")
        study = Study.objects.create(
            patient=patient, modality="film", performed_on=localdate(), posture="standing"
        )
        confirm_numbering(study, consultant)
        return make_series(study).frames.get()


def on_screen(page: Page, frame: ImageFrame, place: list[float]) -> tuple[float, float]:
    """Where a pixel of the whole picture is."""
    box = page.locator("[data-marks]").bounding_box()
    aspect = frame.row_mm / frame.column_mm
    zoom = 0.98 * min(box["width"] / frame.columns, box["height"] / (frame.rows * aspect))
    x, y = place[0] - (frame.columns - 1) / 2, (place[1] - (frame.rows - 1) / 2) * aspect
    return box["x"] + box["width"] / 2 + x * zoom, box["y"] + box["height"] / 2 + y * zoom


def walk(hands: Keyboard, away: float, keys: tuple[str, str]) -> None:
    """Move the point in hand: ten pixels, one, a tenth for each key."""
    key, tenths = keys[away < 0], round(abs(away) * 10)
    for prefix, size in (("Control+", 100), ("", 10), ("Shift+", 1)):
        for _ in range(tenths // size):
            hands.press(f"{prefix}{key}")
        tenths %= size


def test_a_vertebra_marked_by_keyboard_and_mouse_is_measured_on_the_record(
    signed_in, consultant, frame, picture
):
    page = signed_in(consultant)
    page.goto(reverse("marking-new", args=[frame.pk, "L1", "lateral"]))
    page.locator(".stage:not(.stage--waiting)").wait_for()
    page.locator("[data-stage]").evaluate("one => one.scrollIntoView({ block: 'end' })")
    hands = Keyboard(page)
    for name in KEPT:
        hands.go(page.locator("[data-marks]"))
        hands.press("Enter")
        point = page.locator(f'[data-point="L1 {name}"]')
        expect(point).to_be_focused()
        at = json.loads(page.locator("#id_marks").input_value())["L1"][name]
        walk(hands, TRUE[name][0] - at[0], ("ArrowRight", "ArrowLeft"))
        walk(hands, TRUE[name][1] - at[1], ("ArrowDown", "ArrowUp"))
        hands.press("Escape")
    for name in ("lower_anterior", "upper_middle", "lower_middle"):
        page.mouse.click(*on_screen(page, frame, TRUE[name]))
    row = page.locator("[data-numbers] tbody tr").first
    expect(row).to_contain_text("Anterior height, mm")
    shown = row.locator("td").last.inner_text().split(" ±")
    expect(page.locator("[data-next]")).not_to_contain_text("L1")
    for _ in range(40):  # what is typed is kept a moment after the last change
        if Draft.objects.exists():
            break
        page.wait_for_timeout(100)
    assert "upper_anterior" in json.dumps(Draft.objects.get().data)
    picture(page, "measured-film")
    press(page, "Save the marks")
    told(page, "L1 measured.")
    found = Measurement.objects.live().get(reading__level="L1")
    assert found.anterior_height_mm == Decimal(shown[0])
    assert Decimal(found.plus_minus["anterior_height_mm"]) == Decimal(shown[1])
    assert found.anterior_height_mm == pytest.approx(Decimal("16.0"), abs=Decimal("0.5"))
    assert found.marking.marks["L1"]["upper_anterior"] == pytest.approx(
        TRUE["upper_anterior"], abs=0.051
    )
    expect(page.locator("main")).to_contain_text(f"{shown[0]} mm")
    picture(page, "measured-record")
