"""The governance lead: an audit from draft to frozen file, and a record opened with a reason."""

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils.timezone import localdate
from playwright.sync_api import expect

from register.history import acting
from register.models import AccessLog
from reports.models import AuditReport
from tests.browser.hands import press, told
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_score,
    make_site,
    make_technique,
    make_user,
)

TODAY = localdate()
THIS_QUARTER = date(TODAY.year, 3 * ((TODAY.month - 1) // 3) + 1, 1)
LAST_DAY = THIS_QUARTER - timedelta(days=1)
ADDRESS = (LAST_DAY.year, (LAST_DAY.month - 1) // 3 + 1)


@pytest.fixture
def lead(transactional_db):
    """A lead whose department did six procedures in the last quarter."""
    with acting("test"):
        site = make_site(name="Harrowmere General Hospital")
        operator = make_user(site, "consultant")
        technique = make_technique(site)
        for place in range(6):
            day = LAST_DAY - timedelta(days=50 + 5 * place)
            fracture = make_fracture(
                make_referral(make_patient(site), onset_on=day - timedelta(days=30)),
                state="treated",
            )
            procedure = make_procedure(
                fracture,
                technique,
                operator,
                performed_on=day,
                state="signed",
                signed_by=operator,
                signed_at=f"{day}T15:00:00Z",
            )
            for timepoint, opens, scores in (("before", -20, 8), ("weeks_2_4", 14, 3 + place % 3)):
                review = make_review(
                    procedure,
                    timepoint=timepoint,
                    opens_on=day + timedelta(days=opens),
                    target_on=day + timedelta(days=opens + 7),
                    closes_on=day + timedelta(days=opens + 14),
                    held_on=day + timedelta(days=opens + 7),
                    red_flags=["none"],
                    recorded_by=operator,
                )
                make_score(review, "pain_moving", scores)
        return make_user(site, "lead")


def test_an_audit_is_read_issued_and_redone_to_the_byte(signed_in, lead, picture):
    page = signed_in(lead)
    page.goto("/")
    page.get_by_role("link", name=f"Quarter {ADDRESS[1]} of {ADDRESS[0]}").click()
    charts = page.locator(".chart__plot")
    assert charts.count() >= 2
    for chart in charts.all():
        expect(chart.locator("svg.main-svg").first).to_be_visible()
    expect(page.locator("#headline")).to_contain_text("6 procedures on 6 patients")
    picture(page, "lead-1-draft")
    page.get_by_role("link", name="Issue this audit…").click()
    page.get_by_label("Comment, printed on the report").fill("Two lists were lost to leave.")
    press(page, "Issue and freeze")
    told(page, "issued and frozen")
    address = str(page.get_by_role("link", name="Open the PDF").get_attribute("href"))
    first, second = page.request.get(address).body(), page.request.get(address).body()
    assert first.startswith(b"%PDF")
    assert first == second == bytes(AuditReport.objects.get().pdf)
    page.get_by_role("link", name="Print it again from its rows and compare").click()
    expect(page.get_by_text("printed again: the same bytes")).to_be_visible()
    expect(page.get_by_text("rows unchanged")).to_be_visible()
    picture(page, "lead-2-issued")


def test_a_record_opens_only_with_a_reason_that_is_kept(watch, lead, picture):
    watch.allowed.append("the server responded with a status of 403")
    patient = lead.site.patients.first()
    page = watch.open(lead)
    page.goto(reverse("patient-record", args=[patient.pk]))
    expect(page.get_by_role("heading", level=1)).to_have_text("Why do you open this record?")
    assert patient.family_name.upper() not in page.content().upper()
    press(page, "Open the record")
    expect(page.get_by_role("alert")).to_contain_text("The record was not opened")
    assert not AccessLog.objects.exists()
    picture(page, "lead-3-reason")
    page.get_by_label("Reason (needed)").fill("Complaint 14: was the family told?")
    press(page, "Open the record")
    strip = page.get_by_role("region", name="Patient")
    expect(strip).to_contain_text(patient.family_name.upper())
    looked = AccessLog.objects.get()
    assert (looked.user, looked.patient) == (lead, patient)
    assert looked.reason == "Complaint 14: was the family told?"
    expect(
        page.get_by_text("Your role reads this record and changes nothing in it.")
    ).to_be_visible()
    page.goto(reverse("waiting"))
    expect(page.get_by_role("heading", level=1)).to_have_text("This page is not part of your role")
