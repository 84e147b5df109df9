"""The consultant's whole way, from a referral file to the signed operation record."""

import csv
import io
from datetime import date, time, timedelta

import pytest
from django.urls import reverse
from django.utils.timezone import localdate
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from planning.models import Assessment, Decision, ListEntry, ProcedurePlan
from register.domain.days import day_words
from register.domain.nhs_number import formatted
from register.history import acting
from register.models import Fracture, Measurement, Patient, Procedure, Review, StockItem
from reports.demo.names import gtin, scan
from tests.browser.hands import (
    choose,
    press,
    sheet,
    sign_in,
    told,
    write,
    write_day,
)
from tests.factories import (
    make_session,
    make_site,
    make_technique,
    make_user,
    nhs_number,
)

TODAY = localdate()
NHS = nhs_number(700)
ROW = {
    "Hospital number": "H904711",
    "NHS Number": formatted(NHS),
    "Family name": "Tarnbeck",
    "Given name": "Olive",
    "Date of birth": "09 Apr 1948",
    "Sex": "female",
    "Referral date": day_words(TODAY - timedelta(days=2)),
    "Source": "hospital ward",
    "In hospital": "yes",
    "Levels": "L1",
    "Onset date": day_words(TODAY - timedelta(days=19)),
    "Mechanism": "low",
    "Pain at rest": "5",
    "Pain on movement": "8",
    "Pain trend": "unchanged",
    "Tender": "yes",
    "Matches image": "yes",
    "Analgesic step": "weak opioid",
    "Analgesia optimal": "yes",
    "Neurology": "N0",
    "ASA": "3",
    "Blood thinners": "none",
    "Allergies": "none known",
    "Allergy to cement": "no",
    "Allergy to contrast": "no",
    "Cancer": "no",
    "Infection": "no infection known",
    "Infection signs": "none",
}
MISTYPED = ROW | {
    "Hospital number": "H904712",
    "Given name": "Enid",
    "NHS Number": f"{formatted(NHS)[:-1]}{(int(NHS[-1]) + 1) % 10}",
}
FINDINGS = {
    "End plates that gave way": "upper",
    "Oedema": "band",
    "Cleft inside the body": "no",
    "Fluid sign": "no",
    "Posterior wall": "intact",
    "Posterior tension band": "intact",
    "Translation or rotation": "no",
    "Epidural compression": "0 bone only",
    "Convex posterior border": "no",
    "Abnormal pedicle": "no",
    "Abnormal posterior elements": "no",
    "Epidural mass": "no",
    "Paraspinal mass": "no",
    "Lesions at other levels": "no",
    "Change centred on the disc": "no",
}
HEIGHTS = {
    "T12": ("21.6", "20.8", "22.9", "32.0"),
    "L1": ("15.8", "14.9", "22.6", "33.1"),
    "L2": ("24.3", "23.2", "25.1", "34.0"),
}
LENGTHS = ("anterior height", "middle height", "posterior height", "depth")
ITEM = gtin(41)
EXPIRES = date(TODAY.year + 2, 6, 30)


@pytest.fixture
def consultant(transactional_db):
    with acting("test"):
        site = make_site(name="Harrowmere General Hospital")
        user = make_user(site, "consultant", username="ines", last_name="Harrowgill")
        make_technique(site, name="Expandable implants and cement", route="expandable")
        make_session(site, held_on=TODAY, consultant=user, starts_at=time(13, 30))
        StockItem.objects.create(
            site=site,
            kind="implant",
            name="Implant",
            gtin=ITEM,
            lot="A17",
            expires_on=EXPIRES,
            size_label="5.0 mm",
            quantity=4,
        )
    return user


def referral_file() -> bytes:
    sheet_of_rows = io.StringIO()
    writer = csv.DictWriter(sheet_of_rows, fieldnames=list(ROW), lineterminator="\r\n")
    writer.writeheader()
    writer.writerows([ROW, MISTYPED])
    return sheet_of_rows.getvalue().encode("utf-8-sig")


def test_from_a_referral_file_to_the_signed_record(signed_in, consultant, picture):
    page = signed_in(None)
    sign_in(page, "ines")
    expect(page.get_by_role("heading", name="Waiting fractures")).to_be_visible()

    import_the_file(page, picture)
    page.get_by_role("link", name="Waiting", exact=True).click()
    expect(page.get_by_role("row", name="TARNBECK, Olive")).to_contain_text("L1")
    picture(page, "consultant-2-waiting")
    page.get_by_role("link", name="TARNBECK, Olive").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("L1")

    read_the_images(page, picture)
    assess(page, picture)
    decide(page, picture)
    plan(page, picture)
    put_on_the_list(page, picture)
    record(page, picture)
    sign(page, picture)


def import_the_file(page: Page, picture) -> None:
    page.get_by_role("link", name="Import", exact=True).click()
    page.get_by_label("File to send").set_input_files(
        {"name": "referrals.csv", "mimeType": "text/csv", "buffer": referral_file()}
    )
    press(page, "Look at the rows")
    expect(page.get_by_role("row", name="TARNBECK, Olive")).to_contain_text("new")
    refused = page.get_by_role("row").filter(has_text="refused")
    expect(refused).to_contain_text("a digit is mistyped")
    picture(page, "consultant-1-import")
    assert not Patient.objects.exists()
    press(page, "Write 1 row")
    told(page, ": written")
    assert Patient.objects.get().nhs_number == NHS


def read_the_images(page: Page, picture) -> None:
    page.get_by_role("link", name="Add images and readings").click()
    choose(page, {"Posture": "lying on the back", "Levels counted": "up from the sacrum"})
    page.get_by_label("Kind of images (needed)").select_option(label="MRI")
    write(page, {"Sequences or views": "T1, T2, STIR"})
    write_day(page, "Images made", TODAY - timedelta(days=1))
    press(page, "Save study")
    told(page, "Now choose a level")
    page.get_by_role("link", name="L1", exact=False).first.click()
    choose(page, FINDINGS)
    write(page, {"Retropulsion": "0", "Canal taken up": "0"})
    choose(page, {"Measured with": "reporting workstation", "Scale": "calibrated pixel spacing"})
    before = page.locator("#drawn svg").inner_html()
    for level, sizes in HEIGHTS.items():
        for length, size in zip(LENGTHS, sizes, strict=True):
            page.get_by_label(f"{level} {length}, in mm").fill(size)
    expect(page.locator("#drawn")).to_contain_text("15.8")
    assert page.locator("#drawn svg").inner_html() != before
    picture(page, "consultant-3-level")
    press(page, "Save L1")
    told(page, "L1 saved")
    assert Measurement.objects.count() == len(HEIGHTS)
    page.goto(reverse("patient-record", args=[Patient.objects.get().pk]))


def assess(page: Page, picture) -> None:
    picture(page, "consultant-4-record")
    press(page, "Assess")
    told(page, "L1 assessed")
    made = Assessment.objects.get()
    assert made.results.count() >= 8
    for fold in page.locator("details.reasons__quiet > summary").all():
        fold.click()
    verdicts = page.locator("em.verdict")
    assert verdicts.count() == made.results.count()
    assert all(text.strip() for text in verdicts.all_inner_texts())
    first = page.locator(".reason").first
    first.get_by_text("Facts and sources").click()
    expect(first.locator("details li").first).to_be_visible()
    # No blood was taken: that is said in words, and never read as normal.
    expect(sheet(page, "Body and blood")).to_contain_text("not recorded")
    inr = page.locator(".reason", has_text="INR").first
    expect(inr.locator("em.verdict")).to_have_text("cannot assess")
    expect(inr.locator("p").first).to_contain_text("Not recorded: INR")
    picture(page, "consultant-5-reasons")


def decide(page: Page, picture) -> None:
    page.get_by_role("link", name="Decide", exact=True).click()
    page.get_by_label("expandable implants and cement").check()
    press(page, "Save decision")
    page.get_by_role("link", name="Give the reason for this decision.").click()
    reason = page.get_by_label("Reason (needed)")
    expect(reason).to_be_focused()
    expect(page.get_by_label("expandable implants and cement")).to_be_checked()
    reason.fill("Fresh collapse with severe pain at the level of oedema.")
    picture(page, "consultant-6-decide")
    press(page, "Save decision")
    told(page, "Decision on L1 saved")
    assert Decision.objects.get().assessment == Assessment.objects.get()


def plan(page: Page, picture) -> None:
    page.get_by_role("link", name="Plan", exact=True).first.click()
    page.get_by_label("L1: expandable implants and cement").check()
    page.get_by_label("Technique (needed)").select_option(label="Expandable implants and cement")
    press(page, "Draft the plan")
    told(page, "Plan drafted")
    expect(page.get_by_text("L1: read the rules of the plan before approving.")).to_be_visible()
    press(page, "Approve this plan")
    expect(page.get_by_text("The plan lacks: anaesthesia")).to_be_visible()
    choose(page, {"Side": "left and right", "Approach": "through the pedicle"})
    write(page, {"Implants": "2", "Implant size": "5.0 mm", "Cement, orientation": "4.0"})
    press(page, "Save L1")
    told(page, "L1 saved")
    choose(page, {"Anaesthesia": "general anaesthesia", "Position": "lying on the front"})
    write(page, {"Expected length": "60", "Antibiotic": "cefuroxime 1.5 g"})
    picture(page, "consultant-7-plan")
    press(page, "Save the session part")
    told(page, "Plan saved")
    press(page, "Approve this plan")
    told(page, "Plan approved")
    assert ProcedurePlan.objects.get().state == "approved"


def put_on_the_list(page: Page, picture) -> None:
    page.get_by_role("link", name="Theatre", exact=True).click()
    expect(page.get_by_role("row", name="TARNBECK, Olive")).to_be_visible()
    picture(page, "consultant-8-theatre")
    page.get_by_role("link", name=day_words(TODAY)).click()
    page.get_by_label("Approved plan (needed)").select_option(index=1)
    press(page, "Put on the list")
    told(page, "TARNBECK, Olive is on the list")
    picture(page, "consultant-9-list")
    address = page.get_by_role("link", name="Print the list").get_attribute("href")
    answer = page.request.get(str(address))
    assert answer.body().startswith(b"%PDF")
    printed = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.body())).pages)
    words = " ".join(printed.split()).casefold()
    for expected in ("TARNBECK", formatted(NHS), "L1", "left and right", day_words(TODAY)):
        assert expected.casefold() in words


def record(page: Page, picture) -> None:
    press(page, "Record the procedure")
    told(page, "Record opened")
    choose(page, {"Leaks": "leak seen", "Looked for on": "film"})
    press(page, "Save L1")
    told(page, "L1 saved")
    for serial, side in enumerate(("left", "right")):
        page.get_by_text("Scan an implant").click()
        part = page.locator("details").filter(has_text="Scan an implant")
        write(part, {"Scan of the label": scan(ITEM, EXPIRES, "A17", f"S{serial}")})
        choose(part, {"Side": side})
        write(part, {"Expansion reached": "4.6"})
        press(page, "Read the scan")
        shown = page.get_by_role("status").filter(has_text="Compare with the label")
        for words in (ITEM, "A17", f"S{serial}", day_words(EXPIRES)):
            expect(shown).to_contain_text(words)
        if side == "left":
            picture(page, "consultant-10-scan")
        press(page, "These fit the label: keep")
        told(page, "Implant recorded")
        page.get_by_text("Add cement of one side").click()
        part = page.locator("details").filter(has_text="Add cement of one side")
        choose(part, {"Side": side, "Viscosity": "high"})
        write(part, {"Volume": "1.9" if side == "left" else "2.2"})
        press(page, "Save the cement")
        told(page, "Cement recorded")
    page.get_by_text("Add a leak").click()
    part = page.locator("details").filter(has_text="Add a leak")
    choose(part, {"Route": "segmental vein", "Place": "paraspinal"})
    part.get_by_label("Seen on (needed)").select_option(label="film")
    press(page, "Save the leak")
    told(page, "Leak recorded")
    choose(
        page,
        {"Level confirmed by": "counted up from the sacrum", "Complications": "asked about, none"},
    )
    write(page, {"In the room": "13:35", "First needle": "13:52", "End": "14:41"})
    write(page, {"Dose-area product": "9.40", "Fluoroscopy time": "412"})
    press(page, "Save the session facts")
    told(page, "Session facts saved")


def sign(page: Page, picture) -> None:
    press(page, "Sign the record")
    told(page, "Signed. The follow-up contacts are scheduled.")
    picture(page, "consultant-11-signed")
    done = Procedure.objects.get()
    assert done.state == "signed"
    level = done.levels.get()
    assert (level.implants.count(), level.cement.count(), level.leaks.count()) == (2, 2, 1)
    assert ListEntry.objects.get().state == "done"
    assert Fracture.objects.get().state == "treated"
    assert Review.objects.filter(procedure=done).count() >= 3
    page.get_by_role("link", name="Waiting", exact=True).click()
    expect(page.get_by_text("No fracture is waiting.")).to_be_visible()
    page.goto(reverse("course", args=[done.patient_id]))
    picture(page, "consultant-12-course")
