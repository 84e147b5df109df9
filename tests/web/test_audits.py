"""The audit pages: who may do what, the same numbers as on paper, and what is frozen."""

import io
import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from register.history import acting
from register.services.receipts import form_token
from reports.audits.spec import quarter_days
from reports.models import AuditReport
from reports.selectors import quarters
from reports.wording import NO_BREAK, THIN
from tests.clock import stop_clock
from tests.factories import make_technique
from tests.integration.audit_rows import CUT_OFF, DONE, Department, make_department, void
from tests.web.people import make_people

LAST_QUARTER, RUNNING = (2026, 4), (2027, 1)
COMMENT = "Two contacts were missed\nin the week of the strike."
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today(monkeypatch):
    """CUT_OFF, 01 Feb 2027: the last quarter of 2026 is over, the next one runs."""
    stop_clock(monkeypatch, CUT_OFF)


@pytest.fixture
def people():
    with acting("test"):
        return make_people()


@pytest.fixture
def ours(people):
    """A department with six procedures, five of them scored before and at two to four weeks."""
    with acting("test"):
        made = Department(people.site, people.users["consultant"], make_technique(people.site))
        for place in range(6):
            procedure = made.procedure(complication_check="none")
            if place:
                made.scored(procedure, "before", 0, 8)
                made.scored(procedure, "weeks_2_4", 21, place)
        made.leak(procedure)
    return made


def plain(text: str) -> str:
    """Text with ordinary spaces and no line breaks."""
    return " ".join(text.replace(THIN, " ").replace(NO_BREAK, " ").split())


def page_words(page) -> str:
    return plain(re.sub(r"<[^>]+>", " ", page.text))


def issue(people, quarter=LAST_QUARTER, role="lead", comment=COMMENT):
    sent = {"token": form_token(), "comment": comment}
    return people.client(role).post(reverse("audit-issue", args=quarter), sent)


# --- who may ----------------------------------------------------------------------


@pytest.fixture
def quick(monkeypatch):
    """Issue without drawing pages, where the test is not about the PDF itself."""
    monkeypatch.setattr("reports.services.pdf", lambda template, context: (b"%PDF-", "0" * 64))


def test_the_lead_issues_and_a_consultant_reads(people, ours, quick):
    answer = issue(people)
    report = AuditReport.objects.get()
    assert answer.url == reverse("audit-report", args=[report.pk])
    assert (report.issued_by, report.site) == (people.users["lead"], people.site)
    consultant = people.client("consultant")
    draft = consultant.get(reverse("audit-quarter", args=LAST_QUARTER))
    assert "Issue and freeze" not in draft.text
    assert "The stored file is the record" in draft.text
    rows = reverse("audit-rows", args=[report.pk])
    assert rows in people.client("lead").get(answer.url).text
    shown = consultant.get(answer.url)
    assert shown.status_code == 200
    assert rows not in shown.text, "no link to a page that would refuse"
    assert consultant.get(reverse("audit-pdf", args=[report.pk])).status_code == 200
    assert issue(people, role="consultant").status_code == 403
    assert consultant.get(rows).status_code == 403
    assert AuditReport.objects.count() == 1


@pytest.mark.parametrize("role", ["nurse", "administrator"])
def test_the_others_see_nothing(people, ours, quick, role):
    issue(people)
    report = AuditReport.objects.get()
    client = people.client(role)
    for name, args in [
        ("audits", []),
        ("audit-quarter", LAST_QUARTER),
        ("audit-report", [report.pk]),
        ("audit-pdf", [report.pk]),
        ("audit-rows", [report.pk]),
    ]:
        assert client.get(reverse(name, args=args)).status_code == 403, name
    assert issue(people, role=role).status_code == 403


def test_a_report_of_another_site_is_not_there(people, ours, quick):
    issue(people)
    report = AuditReport.objects.get()
    with acting("test"):
        stranger = make_people().client("lead")
    for name in ("audit-report", "audit-pdf", "audit-rows"):
        assert stranger.get(reverse(name, args=[report.pk])).status_code == 404, name
    listed = stranger.get(reverse("audits")).text
    assert reverse("audit-report", args=[report.pk]) not in listed


def test_a_running_quarter_is_shown_and_not_issued(people, ours):
    lead = people.client("lead")
    draft = lead.get(reverse("audit-quarter", args=RUNNING))
    assert "Issue and freeze" not in draft.text
    assert "The quarter is still running" in draft.text
    answer = lead.post(reverse("audit-issue", args=RUNNING), {"comment": "Early"}, follow=True)
    assert "It can be issued after its last day" in answer.text
    assert not AuditReport.objects.exists()


def test_a_running_quarter_owes_nothing_that_is_not_due_yet(people, ours):
    """A window that closes tomorrow is still open, however the quarter ends."""
    with acting("test"):
        procedure = ours.procedure()
        ours.contact(procedure, "months_3", (CUT_OFF - DONE).days - 6)
        draft = people.client("lead").get(reverse("audit-quarter", args=RUNNING))
    assert "No contact after a procedure fell due in the quarter" in page_words(draft)
    assert "Records read up to 01 Feb 2027" in page_words(draft)


@pytest.mark.parametrize("quarter", [(2027, 2), (2030, 1), (1999, 4), (2026, 0), (2026, 5)])
def test_a_quarter_that_has_not_begun_is_not_there(people, quarter):
    lead = people.client("lead")
    assert lead.get(reverse("audit-quarter", args=quarter)).status_code == 404
    assert issue(people, quarter).status_code == 404


# --- what is shown ----------------------------------------------------------------


def test_the_draft_and_the_paper_hold_the_same_numbers(people, ours):
    draft = people.client("lead").get(reverse("audit-quarter", args=LAST_QUARTER))
    answer = issue(people)
    report = AuditReport.objects.get()
    file = people.client("consultant").get(reverse("audit-pdf", args=[report.pk]))
    assert file.content == bytes(report.pdf)
    assert file["Content-Type"] == "application/pdf"
    assert "audit-2026-10-01-2026-12-31.pdf" in file["Content-Disposition"]
    pages = PdfReader(io.BytesIO(file.content)).pages
    paper = plain(" ".join(page.extract_text() for page in pages))
    screen = page_words(draft)
    for cell in (
        "6 procedures on 6 patients, 6 levels, in the quarter",
        "6 of 6 (100 %)",
        "−5.0 (−7.0 to −3.0)",
        "Cement was seen outside the bone in 1 of 1 procedures looked at",
        "5 of 5 (100 %)",
        "0 of 6 (0 %)",
    ):
        assert cell in screen, cell
        assert cell in paper, cell
    assert "Two contacts were missed in the week of the strike." in paper
    assert "Comment of the person who issued this audit" in paper
    assert report.rows_sha256 in paper.replace(" ", "")
    redone = people.client("lead").get(answer.url, {"redo": "1"})
    assert "printed again: the same bytes" in redone.text
    assert "stored PDF unchanged" in redone.text


def test_the_contents_lead_to_each_chapter(people, ours):
    draft = people.client("lead").get(reverse("audit-quarter", args=LAST_QUARTER)).text
    listed = draft.split('<nav class="contents"')[1].split("</nav>")[0]
    targets = re.findall(r'href="#([^"]+)"', listed)
    assert targets[0] == "headline"
    assert targets[-1] == "issue"
    assert len(targets) == 9
    for target in targets:
        assert draft.count(f'id="{target}"') == 1, target
    ids = re.findall(r'\bid="([^"]+)"', draft)
    assert len(ids) == len(set(ids)), "an id stands once on a page"


def test_no_cell_of_a_draft_is_empty(people, ours):
    draft = people.client("lead").get(reverse("audit-quarter", args=LAST_QUARTER)).text
    body = draft.split("<main")[1]
    assert len(re.findall(r"<td", body)) > 200
    assert re.findall(r"<td[^>]*>\s*</td>", body) == []


def test_an_empty_register_says_what_to_do_and_has_a_draft(people):
    lead = people.client("lead")
    page = lead.get(reverse("audits"))
    assert "No procedure is recorded yet." in page.text
    assert "Quarter 1 of 2027" not in page.text
    draft = lead.get(reverse("audit-quarter", args=LAST_QUARTER))
    assert draft.status_code == 200
    assert "No procedure of the quarter is recorded" in draft.text


def test_damaged_rows_are_not_handed_out(people, ours, quick):
    issue(people)
    report = AuditReport.objects.get()
    address = reverse("audit-rows", args=[report.pk])
    lead = people.client("lead")
    whole = lead.get(address)
    assert whole["Content-Type"] == "application/json"
    assert len(whole.json()["procedures"]["rows"]) == 6
    with acting("test"):
        AuditReport.objects.update(rows=bytes(report.rows)[:-9])
    answer = lead.get(address, follow=True)
    assert "The stored rows cannot be unpacked." in answer.text
    redone = lead.get(reverse("audit-report", args=[report.pk]), {"redo": "1"})
    assert "rows differ from their digest" in redone.text
    assert "not printed again" in redone.text


# --- the list of quarters ---------------------------------------------------------


def test_quarters_go_back_to_the_first_procedure(people, ours):
    with acting("test"):
        ours.procedure(performed_on=date(2022, 5, 20), onset_on=date(2022, 5, 1))
        patient = ours.patient()
        ours.procedure(patient, performed_on=date(2020, 5, 20), onset_on=date(2020, 5, 1))
        void(patient)
    found = quarters(people.site, today=CUT_OFF)
    assert [(one.year, one.number) for one in found][:2] == [(2027, 1), (2026, 4)]
    assert (found[-1].year, found[-1].number, found[-1].procedures) == (2022, 2, 1)
    assert len(found) == 20
    assert {one.procedures for one in found} == {0, 1, 6}
    assert [one.is_running for one in found][:2] == [True, False]


def bare_report(people, year: int, number: int) -> None:
    """An issued report without content, for the list."""
    first, last = quarter_days(year, number)
    AuditReport.objects.create(
        site=people.site, title="Audit", first_day=first, last_day=last, spec={}, rows=b"",
        rows_sha256="0" * 64, pdf=b"", pdf_sha256="0" * 64, issued_by=people.users["lead"],
        issued_at=timezone.now(),
    )  # fmt: skip


def test_the_list_costs_the_same_for_3_procedures_and_for_300(people):
    lead = people.client("lead")

    def cost() -> int:
        with CaptureQueriesContext(connection) as log:
            assert lead.get(reverse("audits")).status_code == 200
        return len(log.captured_queries)

    with acting("test"):
        made = Department(people.site, people.users["consultant"], make_technique(people.site))
        first = [made.procedure(performed_on=DONE - timedelta(days=30 * n)) for n in range(3)]
        bare_report(people, *LAST_QUARTER)
    few = cost()
    with acting("test"):
        for quarter in ((2026, 3), (2026, 2), (2026, 1), (2025, 4)):
            bare_report(people, *quarter)
        rows = []
        for n in range(297):
            row = type(first[0])(
                patient=first[0].patient,
                technique=made.technique,
                operator=made.operator,
                performed_on=DONE - timedelta(days=n + 100),
            )
            rows.append(row)
        type(first[0]).objects.bulk_create(rows)
    assert cost() == few


def test_the_list_says_what_was_issued(people, ours, quick):
    lead = people.client("lead")
    assert "not issued" in page_words(lead.get(reverse("audits")))
    issue(people)
    with acting("test"):
        make_department()
    listed = page_words(lead.get(reverse("audits")))
    assert "not issued" not in listed
    assert re.search(r"Quarter 4 of 2026 .* 6 .*issued 01 Feb 2027", listed)
