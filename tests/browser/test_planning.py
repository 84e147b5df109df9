"""From the worklist to a saved decision in a real browser, by keyboard alone."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils.timezone import localdate
from playwright.sync_api import Locator, Page, expect

from planning.models import Decision
from planning.services.assessments import assessment_record
from register.history import acting
from tests.factories import (
    make_fracture,
    make_measurement,
    make_patient,
    make_reading,
    make_referral,
    make_site,
    make_user,
)

DAY = timedelta(days=1)
WIDEST = """[...document.querySelectorAll("main *")]
  .filter((one) => one.getBoundingClientRect().right > innerWidth + 1)
  .map((one) => one.tagName + "." + one.className).join(" ")"""


@pytest.fixture
def consultant(transactional_db):
    with acting("test"):
        return make_user(make_site(), "consultant")


@pytest.fixture
def fracture(consultant):
    today = localdate()
    with acting("test"):
        patient = make_patient(consultant.site, family_name="Arden")
        referral = make_referral(patient, referred_on=today - 5 * DAY, onset_on=today - 26 * DAY)
        fracture = make_fracture(referral)
        make_measurement(make_reading(fracture, consultant, read_on=today - DAY))
    return fracture


def tab_to(page: Page, target: Locator) -> None:
    """Press Tab until the focus is on the target; a target that is never reached fails."""
    for _ in range(120):
        if target.evaluate("one => one === document.activeElement"):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{target} cannot be reached with Tab")


def press(page: Page, target: Locator) -> None:
    tab_to(page, target)
    page.keyboard.press("Enter")


def test_from_the_worklist_to_a_decision_by_keyboard(signed_in, consultant, fracture, picture):
    page = signed_in(consultant)
    page.goto(reverse("waiting"))
    picture(page, "waiting")
    press(page, page.get_by_role("button", name="Assess L1, ARDEN, Maud"))

    expect(page.get_by_role("status")).to_contain_text("L1 assessed.")
    expect(page.locator(".answer h2")).to_contain_text("Speaks for a procedure")
    picture(page, "record")
    press(page, page.get_by_role("link", name="Decide", exact=True))

    expect(page.get_by_role("heading", level=1)).to_have_text("Decision on L1")
    press(page, page.get_by_role("button", name="Save decision"))
    expect(page.locator(".error-summary")).to_be_focused()
    picture(page, "decision-refused")

    tab_to(page, page.get_by_role("radio", name="continued conservative care"))
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")  # balloon tamping and cement
    tab_to(page, page.get_by_label("Reason"))
    page.keyboard.type("Severe pain for four weeks, unhealed.")
    press(page, page.get_by_role("button", name="Save decision"))

    expect(page.get_by_role("status")).to_contain_text("Decision on L1 saved")
    decision = Decision.objects.get()
    assert (decision.route, decision.reason) == (
        "balloon",
        "Severe pain for four weeks, unhealed.",
    )


def test_a_fracture_on_the_strip_is_a_link_for_the_keyboard(signed_in, consultant, fracture):
    with acting("test"):
        make_fracture(fracture.referral, level="T8", state="old")
    page = signed_in(consultant)
    page.goto(reverse("patient-record", args=[fracture.patient_id]))

    press(page, page.locator("svg a[aria-label^='T8']"))

    expect(page.get_by_role("heading", level=1)).to_contain_text("T8")


def test_reasons_open_and_close_without_a_script(signed_in, consultant, fracture):
    with acting("test"):
        assessment_record(fracture=fracture, made_by=consultant, as_of=localdate())
    page = signed_in(consultant)
    page.goto(reverse("patient-record", args=[fracture.patient_id]))
    rule = page.locator("#rule-healing-01")

    expect(rule.locator("dl")).to_be_hidden()
    press(page, rule.locator("summary"))

    expect(rule.locator("dl")).to_contain_text("oedema on MRI")
    expect(rule.locator("dl")).to_contain_text("band")


@pytest.mark.parametrize("width", [1280, 390])
def test_no_page_is_wider_than_the_screen(signed_in, consultant, fracture, width, picture):
    with acting("test"):
        made = assessment_record(fracture=fracture, made_by=consultant, as_of=localdate())
    page = signed_in(consultant, width)

    for name, key in [
        ("waiting", None),
        ("patient-record", fracture.patient_id),
        ("assessment", made.pk),
        ("decide", fracture.pk),
        ("protocol", None),
    ]:
        page.goto(reverse(name, args=[key] if key else []))
        picture(page, f"{name}-{width}")
        assert page.evaluate("document.documentElement.scrollWidth") == width, page.evaluate(WIDEST)
