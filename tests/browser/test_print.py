"""Pages on paper: who it is about on every sheet, nothing that only a screen can do."""

import io

import pytest
from django.urls import reverse
from django.utils.timezone import localdate
from pypdf import PdfReader

from register.history import acting
from tests.factories import (
    make_fracture,
    make_measurement,
    make_patient,
    make_reading,
    make_referral,
    make_session,
    make_site,
    make_user,
)

A4_PT = (595, 842)  # ISO 216 in points, rounded
ON_SCREEN = (".top", ".help", ".filters", ".skip", ".button--main", ".not-on-paper")


@pytest.fixture
def consultant(transactional_db):
    with acting("test"):
        return make_user(make_site(), "consultant")


@pytest.fixture
def patient(consultant):
    """Somebody whose record fills more than one sheet."""
    with acting("test"):
        patient = make_patient(consultant.site, family_name="Oakenthwaite")
        fracture = make_fracture(make_referral(patient))
        make_measurement(make_reading(fracture, consultant))
    return patient


def sheets(page) -> list[str]:
    """The words of each sheet; every sheet is A4 and upright."""
    printed = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    for sheet in printed.pages:
        assert (round(sheet.mediabox.width), round(sheet.mediabox.height)) == A4_PT
    return [sheet.extract_text() for sheet in printed.pages]


def only_on_screen(page, *more: str) -> None:
    """See what only a screen can do, first on the screen, then not on paper; stay with paper."""
    page.emulate_media(media="screen")
    for one in (".top", ".help", ".skip", *more):
        assert page.locator(one).filter(visible=True).count() > 0, one
    page.emulate_media(media="print")
    assert page.locator(", ".join(ON_SCREEN)).filter(visible=True).count() == 0


def test_paper_names_the_patient_on_each_sheet_and_has_no_navigation(
    signed_in, consultant, patient
):
    page = signed_in(consultant)
    page.goto(reverse("patient-record", args=[patient.pk]))
    record = sheets(page)
    assert len(record) > 1
    for number, words in enumerate(record, 1):
        assert "OAKENTHWAITE" in words
        assert f"page {number} of {len(record)}" in words
    assert f"Shown to {consultant} on" in record[-1]
    only_on_screen(page)
    page.goto(reverse("waiting"))
    only_on_screen(page, ".filters", ".button--main")
    assert page.locator(".identity").count() == 0
    # A table, not the cards of a narrow screen: its columns can be compared.
    row = page.locator(".waiting tbody tr").last
    assert row.evaluate("one => getComputedStyle(one).display") == "table-row"
    (waiting,) = sheets(page)
    assert "OAKENTHWAITE" in waiting
    with acting("test"):
        session = make_session(consultant.site, held_on=localdate())
    page.goto(reverse("theatre-session", args=[session.pk]))
    only_on_screen(page, ".not-on-paper")
