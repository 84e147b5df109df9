"""The main job runs end to end on the demo, twice, and says where it fails."""

import csv
from datetime import date
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import CommandError, call_command

from planning.models import Decision, ListEntry
from register.imports.reading import read_file
from register.imports.referrals.kind import REFERRALS
from register.models import FileImport, Patient, Procedure, Review
from reports.demo import drive as driving
from reports.demo.parameters import SEED
from reports.demo.referral_file import ROWS, SLIPS, week_of_referrals
from reports.demo.steps_to_decision import FINDINGS
from reports.models import AuditReport

pytestmark = pytest.mark.django_db
WEEK = settings.BASE_DIR / "fixtures" / "referrals" / "week_of_referrals.csv"


@pytest.fixture
def demo():
    """Those who wait today, without a past: small and quick."""
    call_command("load_demo", past_patients=0, stdout=StringIO())


def run(out: Path) -> str:
    said = StringIO()
    call_command("drive_main_job", out=out, stdout=said)
    return said.getvalue()


def test_drives_the_whole_job_and_again(demo, tmp_path, monkeypatch):
    said = run(tmp_path)
    for place, (title, _) in enumerate(driving.STEPS, start=1):
        assert f"{place:2d} {title}" in said
    assert "1 new, 1 refused" in said
    assert "24-item disability total, 0 to 24: declined" in said
    assert "the same bytes" in said
    assert (tmp_path / "theatre-list.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "audit.pdf").read_bytes() == bytes(AuditReport.objects.get().pdf)
    monkeypatch.setattr(driving, "STEPS", driving.STEPS[:-1])  # the audit takes longest
    assert "The main job is done" in run(tmp_path)
    driven = Patient.objects.filter(hospital_number__startswith="HD")
    assert driven.count() == 2
    assert FileImport.objects.exclude(confirmed_at=None).count() == 2
    for patient in driven:
        procedure = Procedure.objects.get(patient=patient)
        assert procedure.state == "signed"
        assert ListEntry.objects.get(procedure=procedure).state == "done"
        assert Decision.objects.get(fracture__patient=patient).assessment is not None
        assert Review.objects.filter(procedure=procedure).exclude(held_on=None).count() == 1


def test_says_which_step_failed_and_why(demo, tmp_path, monkeypatch):
    monkeypatch.setitem(FINDINGS, "canal_percent", 140)
    with pytest.raises(CommandError, match=r"Step 3, record findings and heights: .*share of the"):
        run(tmp_path)


def test_says_when_what_came_of_a_step_is_wrong(demo, tmp_path, monkeypatch):
    """Without oedema the deciding fact is missing, and the drive stops at the assessment."""
    monkeypatch.setitem(FINDINGS, "oedema", "")
    with pytest.raises(CommandError, match="Step 4, assess: a deciding fact is missing"):
        run(tmp_path)


def test_needs_the_demo(tmp_path):
    with pytest.raises(CommandError, match="Run load_demo first"):
        run(tmp_path)


def test_week_of_referrals_reads_back():
    today = date(2027, 3, 7)
    content = week_of_referrals(today=today, seed=1).encode()
    read = read_file(content, kind=REFERRALS, date_order="dmy", today=today)
    assert len(read.lines) == ROWS
    assert [line.number - 1 for line in read.lines if line.reasons] == sorted(SLIPS)
    assert read.head.unknown == ()
    assert all(row.patient["hospital_number"].startswith("HG5") for row in read.rows)


def test_stored_week_of_referrals_is_what_the_command_writes():
    """The file in the fixtures is the generator's own, for the day its README names."""
    made = week_of_referrals(today=date(2026, 11, 24), seed=SEED)
    assert WEEK.read_text(encoding="utf-8").splitlines() == made.splitlines()
    assert len(list(csv.reader(made.splitlines()))) == ROWS + 1
