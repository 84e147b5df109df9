"""A theatre log sent in: written, sent again, corrected, undone."""

from io import StringIO

import pytest
from django.core.management import call_command

from register.history import acting
from register.imports.files import empty_file
from register.imports.theatre_log.kind import THEATRE_LOG
from register.models import FileImport, Patient, Procedure, TheatreLogEntry
from register.selectors.import_undo import undo_plan
from register.selectors.import_undo_words import undo_lines
from register.selectors.imports import preview_of
from register.services import imports as writing
from register.services.import_undo import import_undo
from register.services.theatre_log import line_set_apart
from tests.factories import make_patient, make_site, make_technique, make_user
from tests.theatre_log_files import DAY, LINE, TODAY, letters, line, log, without

pytestmark = pytest.mark.django_db


@pytest.fixture
def nurse(db):
    with acting("test"):
        return make_user(make_site(), "nurse")


@pytest.fixture
def procedure(nurse) -> Procedure:
    with acting("test"):
        patient = make_patient(nurse.site, hospital_number="H00104711", family_name="Zoëbeck")
        return Procedure.objects.create(
            patient=patient, technique=make_technique(nurse.site), operator=nurse, performed_on=DAY
        )


def kept(nurse, content: bytes) -> FileImport:
    return writing.import_keep(
        site=nurse.site, user=nurse, file_name="log.csv", content=content, date_order="dmy",
        today=TODAY, kind="theatre_log",
    )  # fmt: skip


def confirm(nurse, *lines) -> FileImport:
    """Send lines in and confirm what the preview shows."""
    file = kept(nurse, log(*lines))
    seen = preview_of(file, today=TODAY).seal
    return writing.import_confirm(kept=file, user=nurse, seen=seen, today=TODAY)


def said(nurse, *lines) -> str:
    return letters(preview_of(kept(nurse, log(*lines)), today=TODAY).verdicts)


def test_lines_are_written_with_their_procedure_and_no_patient_is_made(nurse, procedure):
    confirm(nurse, LINE, line(7, Hospital_number="H9", Family_name="Stranger"))
    found, stranger = TheatreLogEntry.objects.order_by("pk")
    assert (found.procedure, found.settled_by) == (procedure, None)
    assert (found.performed_on, found.family_name) == (DAY, "Zoëbeck")
    assert (stranger.procedure, stranger.hospital_number) == (None, "H9")
    assert Patient.objects.count() == 1


def test_the_same_file_twice_changes_nothing_even_without_references(nurse, procedure):
    lines = [LINE, without(line(Procedure="Biopsy L1"), "Reference")]
    assert said(nurse, *lines) == "kk"
    confirm(nurse, *lines)
    assert said(nurse, *lines) == "ss"
    with acting("test"):
        TheatreLogEntry.objects.update(procedure=None)
    assert said(nurse, *lines) == "ss"


def test_a_corrected_day_moves_the_finding_and_an_undo_brings_the_first_back(nurse, procedure):
    confirm(nurse, LINE)
    second = confirm(nurse, line(Date="03 Mar 2027"))
    entry = TheatreLogEntry.objects.get()
    assert (str(entry.performed_on), entry.procedure) == ("2027-03-03", None)
    import_undo(kept=second, user=nurse, reason="Wrong file", seen=undo_plan(second).seal)
    entry.refresh_from_db()
    assert (entry.performed_on, entry.procedure) == (DAY, procedure)


def test_an_undo_sets_lines_aside_but_leaves_what_a_person_settled(nurse, procedure):
    file = confirm(nurse, LINE, without(line(7, Hospital_number="H9"), "Family name"))
    other = TheatreLogEntry.objects.get(reference="2027-0007")
    line_set_apart(line=other, expected_version=1, because="Hip replacement", user=nurse)
    plan = undo_plan(file)
    told = [(one.who, one.what) for one in undo_lines(plan.keys_of("voided"), plan)]
    told += [(one.who, one.what) for one in undo_lines(plan.keys_of("left"), plan)]
    assert told == [
        ("ZOËBECK, Maud", "Cement augmentation L1, 04 Mar 2027"),
        ("Maud", "Cement augmentation L1, 04 Mar 2027"),
    ]
    import_undo(kept=file, user=nurse, reason="Wrong file", seen=plan.seal)
    assert [one.reference for one in TheatreLogEntry.objects.live()] == ["2027-0007"]
    assert said(nurse, LINE) == "k"


def test_a_line_that_a_person_set_apart_is_not_changed_under_that_persons_hands(nurse, procedure):
    confirm(nurse, LINE)
    entry = TheatreLogEntry.objects.get()
    line_set_apart(line=entry, expected_version=1, because="Hip replacement", user=nurse)
    assert said(nurse, LINE) == "s"
    assert said(nurse, line(Procedure="Cement augmentation L2")) == "x"


def test_the_empty_file_is_read_back_and_the_command_takes_a_log(nurse, procedure, tmp_path):
    assert empty_file(THEATRE_LOG).decode("utf-8-sig").startswith("Date,Reference,")
    path = tmp_path / "log.csv"
    path.write_bytes(log(LINE))
    told = StringIO()
    more = ("--user", nurse.username, "--confirm")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("register.management.commands.import_file.localdate", lambda: TODAY)
        call_command("import_file", "theatre_log", str(path), *more, stdout=told)
    assert "1 new, patient known" in told.getvalue()
    assert TheatreLogEntry.objects.get().procedure == procedure
