"""An issued audit is frozen with its rows and its PDF, and can be redone from them."""

import gzip
import hashlib
import json
import subprocess
import sys
from datetime import timedelta

import pytest
from django.conf import settings

from planning.models import Assessment
from planning.services.assessments import assessment_record
from register.history import acting
from register.history.reading import changes_of_row
from register.models import Patient
from reports import services
from reports.models import AuditReport
from tests.integration.audit_rows import CUT_OFF, DONE, FIRST, LAST, make_department

pytestmark = pytest.mark.django_db
COMMENT = "Two contacts were missed in the week of the strike."
PRINT_AGAIN = """
import sys
from tests import settings as _
import django
django.setup()
from reports.audits.quarter import build
from reports.audits.rows import rows_from_json
from reports.audits.spec import Spec
from reports.services import audit_print
import json
spec, rows, comment = json.load(sys.stdin)
print(audit_print(build(Spec.from_json(spec), rows_from_json(rows)), comment=comment)[1])
"""


@pytest.fixture
def ours():
    with acting("test"):
        made = make_department()
        procedure = made.procedure(complication_check="none")
        made.scored(procedure, "before", 0, 8)
        made.scored(procedure, "weeks_2_4", 21, 3)
        made.leak(procedure)
        yield made


@pytest.fixture
def quick(monkeypatch):
    """Print the words without drawing pages, where the test is not about the PDF itself."""

    def words(template: str, context: dict[str, object]) -> tuple[bytes, str]:
        data = b"%PDF-" + repr((template, sorted(context.items()))).encode()
        return data, hashlib.sha256(data).hexdigest()

    monkeypatch.setattr(services, "pdf", words)


@pytest.fixture
def issued(quick, ours):
    return issue(ours)


def issue(ours, comment: str = COMMENT) -> AuditReport:
    return services.audit_issue(
        site=ours.site,
        first_day=FIRST,
        last_day=LAST,
        cut_off=CUT_OFF,
        user=ours.operator,
        comment=comment,
    )


def test_an_issued_audit_says_what_it_was_made_from(ours):
    assessment = assessment_record(
        fracture=ours.procedure(level="T12").levels.get().fracture,
        made_by=ours.operator,
        as_of=DONE,
    )
    report = AuditReport.objects.get(pk=issue(ours).pk)
    text = gzip.decompress(bytes(report.rows))
    assert hashlib.sha256(text).hexdigest() == report.rows_sha256
    assert hashlib.sha256(bytes(report.pdf)).hexdigest() == report.pdf_sha256
    assert bytes(report.pdf).startswith(b"%PDF-")
    assert bytes(report.rows)[4:8] == bytes(4), "the packed rows carry no time of packing"
    assert len(json.loads(text)["procedures"]["rows"]) == 2
    assert report.protocol is not None
    assert report.spec["protocol"] == report.protocol.values
    assert report.rulesets == [Assessment.objects.get(pk=assessment.pk).ruleset_id]
    assert (report.code_version, report.lock_sha256) == (
        services.code_version(),
        services.lock_sha256(),
    )
    lock = (settings.BASE_DIR / ".ci" / "lock.txt").read_bytes()
    assert report.lock_sha256 == hashlib.sha256(lock).hexdigest()
    assert (report.issued_by, report.comment) == (ours.operator, COMMENT)


def test_a_second_print_and_another_process_give_the_same_bytes(ours):
    issued = issue(ours)
    again = issue(ours)
    assert bytes(again.rows) == bytes(issued.rows)
    assert bytes(again.pdf) == bytes(issued.pdf)
    assert services.audit_redo(issued).same_bytes
    asked = json.dumps([issued.spec, services.frozen_rows(issued), issued.comment])
    printed = subprocess.run(
        [sys.executable, "-c", PRINT_AGAIN],
        input=asked,
        capture_output=True,
        text=True,
        check=True,
        cwd=settings.BASE_DIR,
        env={"DJANGO_SETTINGS_MODULE": "tests.settings", "PYTHONHASHSEED": "77", "LANG": "C"},
    )
    assert printed.stdout.strip() == issued.pdf_sha256


def test_it_is_redone_from_its_own_rows(issued):
    assert services.audit_redo(issued) == services.Redone(
        same_rows=True, same_bytes=True, same_pdf=True, same_code=True
    )


def test_a_later_change_of_the_register_changes_the_draft_only(ours, issued):
    ours.procedure()
    Patient.objects.update(date_of_death=LAST)
    report = AuditReport.objects.get(pk=issued.pk)
    redone = services.audit_redo(report)
    assert (redone.same_rows, redone.same_bytes, redone.same_pdf) == (True, True, True)
    draft = services.audit_make(
        site=ours.site, first_day=FIRST, last_day=LAST, cut_off=CUT_OFF
    ).report
    assert draft.results.quarter.activity.procedures == 2
    assert draft.rows_sha256 != report.rows_sha256


def stored(report: AuditReport, **fields: object) -> AuditReport:
    """The report as the database holds it after somebody changed columns of it."""
    AuditReport.objects.filter(pk=report.pk).update(**fields)
    return AuditReport.objects.get(pk=report.pk)


@pytest.mark.parametrize("part", ["value", "packing", "cut", "empty"])
def test_rows_that_were_tampered_with_are_found_out(issued, part):
    data = bytes(issued.rows)
    broken = {
        "value": gzip.compress(gzip.decompress(data).replace(b'"8.0"', b'"9.0"'), mtime=0),
        "packing": data[:40] + bytes([data[40] ^ 255]) + data[41:],
        "cut": data[:-12],
        "empty": b"",
    }[part]
    assert broken != data
    report = stored(issued, rows=broken)
    redone = services.audit_redo(report)
    assert (redone.same_rows, redone.same_bytes, redone.same_pdf) == (False, False, True)
    with pytest.raises(services.RowsDamaged):
        services.frozen_rows(report)


def test_a_pdf_that_was_tampered_with_is_found_out(issued):
    redone = services.audit_redo(stored(issued, pdf=bytes(issued.pdf) + b"\n"))
    assert (redone.same_rows, redone.same_bytes, redone.same_pdf) == (True, True, False)


def test_what_was_asked_cannot_be_changed_unseen(issued):
    redone = services.audit_redo(
        stored(issued, spec=issued.spec | {"first_day": str(FIRST - timedelta(days=92))})
    )
    assert (redone.same_rows, redone.same_bytes) == (True, False)


def test_rows_of_a_form_this_version_cannot_read_are_not_an_error(issued):
    text = services.frozen_rows(issued).replace("audit rows 1", "audit rows 0")
    report = stored(
        issued,
        rows=gzip.compress(text.encode()),
        rows_sha256=hashlib.sha256(text.encode()).hexdigest(),
        code_version="an older one",
    )
    redone = services.audit_redo(report)
    assert (redone.same_rows, redone.same_bytes, redone.same_code) == (True, False, False)


def test_history_keeps_who_and_what_but_not_the_heavy_columns(ours, issued):
    (change,) = changes_of_row(issued)
    assert (change.operation, change.reason) == ("INSERT", "Audit issued")
    assert change.actor_id == ours.operator.pk
    assert change.new is not None
    assert change.new["pdf_sha256"] == issued.pdf_sha256
    assert len(json.dumps(change.new, default=str)) < 40_000
    stored_here = str(change.new)
    assert "P00001" not in stored_here
    assert bytes(issued.pdf).hex()[:60] not in stored_here


def test_days_out_of_order_are_refused_and_nothing_is_written(ours):
    with pytest.raises(ValueError, match="must follow one another"):
        services.audit_issue(
            site=ours.site, first_day=LAST, last_day=FIRST, cut_off=CUT_OFF, user=ours.operator
        )
    assert not AuditReport.objects.exists()
