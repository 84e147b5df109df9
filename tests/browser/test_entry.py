"""Typing facts with the keyboard alone, on a wide and a narrow screen."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils.timezone import localdate
from playwright.sync_api import expect

from register.domain.days import MONTHS
from register.history import acting
from register.models import BoneDensity, LaboratoryResult, Patient, Procedure, User
from tests.browser.hands import Keyboard, told
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_site,
    make_technique,
    make_user,
)

TODAY = localdate()
WIDTHS = (1280, 390)


@pytest.fixture
def consultant(transactional_db) -> User:
    with acting("test"):
        return make_user(make_site(), "consultant")


@pytest.fixture
def patient(consultant) -> Patient:
    with acting("test"):
        return make_patient(consultant.site, family_name="Arden")


@pytest.fixture
def operation(consultant, patient) -> Procedure:
    with acting("test"):
        fracture = make_fracture(make_referral(patient, onset_on=None, onset_precision=""))
        technique = make_technique(consultant.site)
        return make_procedure(fracture, technique, consultant, performed_on=TODAY)


def day(hands: Keyboard, group: str, when) -> None:
    """Type a day into its three boxes, from box to box with Tab; nothing jumps by itself."""
    boxes = hands.page.get_by_role("group", name=group).first
    hands.go(boxes.get_by_label("Day"))
    for text in (str(when.day), MONTHS[when.month - 1], str(when.year)):
        hands.type(text)
        hands.press("Tab")


@pytest.mark.parametrize("width", WIDTHS)
def test_two_days_of_blood_and_a_bone_density_are_typed_without_a_mouse(
    signed_in, consultant, patient, width, picture
):
    page = signed_in(consultant)
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(reverse("laboratory-new", args=[patient.pk]))
    hands = Keyboard(page)
    first, second = page.locator(".days__one").nth(0), page.locator(".days__one").nth(1)
    hands.go(first.get_by_label("Day"))
    for text in (str(TODAY.day), MONTHS[TODAY.month - 1], str(TODAY.year), "1.1", "20", "141"):
        hands.type(text)  # INR, platelets, haemoglobin stand under each other
        hands.press("Tab")
    hands.go(second.get_by_label("Day"))
    before = TODAY - timedelta(days=3)
    for text in (str(before.day), str(before.month), str(before.year), "1.4"):
        hands.type(text)
        hands.press("Tab")
    hands.go(page.get_by_label("T-score, in SD").first)
    hands.type("-2.7")
    hands.enter(page.get_by_role("button", name="Save blood and bone"))

    problems = page.locator(".error-summary")
    expect(problems).to_be_focused()
    expect(problems).to_contain_text("Platelets: 20 ×10⁹/L is unusual")
    expect(problems).to_contain_text("Measured: fill it in, or empty the line.")
    assert not LaboratoryResult.objects.exists()
    picture(page, f"entry-blood-{width}")
    hands.go(page.get_by_label("Platelets: why is this value right?").locator("visible=true"))
    hands.type("counted twice")
    hands.go(page.get_by_label("T-score measured at").first)
    hands.type("total")
    day(hands, "Measured", before)
    hands.enter(page.get_by_role("button", name="Save blood and bone"))
    told(page, "Blood tests and bone density saved.")
    assert LaboratoryResult.objects.count() == 4
    platelets = LaboratoryResult.objects.get(analyte="platelets")
    assert platelets.unusual == {"value": "counted twice"}
    assert BoneDensity.objects.get().t_score == Decimal("-2.7")
    print(f"{width} px: {hands.keys} keys, no pointer")


@pytest.mark.parametrize("width", WIDTHS)
def test_the_session_facts_and_a_reason_for_no_dose_are_typed_without_a_mouse(
    signed_in, consultant, operation, width, picture
):
    page = signed_in(consultant)
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(reverse("procedure", args=[operation.pk]))
    hands = Keyboard(page)
    for label, text in (("In the room", "1335"), ("First needle", "13:52"), ("End", "13.20")):
        hands.go(page.get_by_role("textbox", name=label, exact=True))
        hands.type(text)
    hands.choose(page.get_by_label("or why there is no value for Dose-area product"), "not done")
    hands.go(page.get_by_role("textbox", name="Lowest oxygen saturation"))
    hands.type("91")
    hands.enter(page.get_by_role("button", name="Save the session facts"))
    link = page.locator(".error-summary a")
    expect(link).to_have_text("End: must not be before 13:52 (First needle).")
    hands.enter(link)
    end = page.get_by_role("textbox", name="End", exact=True)
    expect(end).to_be_focused()
    expect(end).to_have_value("13.20")
    picture(page, f"entry-session-{width}")
    hands.press("Control+a")
    hands.type("14:41")
    hands.enter(page.get_by_role("button", name="Save the session facts"))
    told(page, "Session facts saved.")
    operation.refresh_from_db()
    assert f"{operation.ended_at:%H:%M}" == "14:41"
    assert (operation.absent, operation.lowest_spo2_percent) == (
        {"dose_area_gy_cm2": "not_done"},
        91,
    )
