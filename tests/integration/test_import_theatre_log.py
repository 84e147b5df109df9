"""A theatre log sent in: written, sent again, corrected, undone."""

from io import StringIO

import pytest
from django.core.management import call_command
from django.db import IntegrityError

from register.history import acting
from register.imports.files import empty_file
from register.imports.theatre_log.kind import THEATRE_LOG
from register.models import FileImport, Patient, Procedure, TheatreLogEntry
from register.selectors.import_undo import undo_plan
from register.selectors.import_undo_words import undo_lines
from register.selectors.imports import preview_of
from register.services import imports as writing
from register.services.import_undo import import_undo
from register.services.theatre_log import line_link, line_set_apart, line_take_back
from tests.factories import make_patient, make_site, make_technique, make_user
from tests.procedure_lists import CELLS, listed
from tests.theatre_log_files import DAY, LINE, TODAY, letters, line, log, without

pytestmark = pytest.mark.django_db
WHO = ("Hospital number", "Family name", "Given name")


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


def kept(nurse, content: bytes, kind: str = "theatre_log") -> FileImport:
    return writing.import_keep(
        site=nurse.site, user=nurse, file_name="log.csv", content=content, date_order="dmy",
        today=TODAY, kind=kind,
    )  # fmt: skip


def confirm(nurse, *lines) -> FileImport:
    """Send lines in and confirm what the preview shows."""
    return confirmed(nurse, kept(nurse, log(*lines)))


def confirmed(nurse, file: FileImport) -> FileImport:
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


def test_a_line_keeps_no_list_of_earlier_procedures_from_its_undo(nurse):
    with acting("test"):
        make_technique(nurse.site, name="Balloon tamping", route="balloon")
    earlier = confirmed(nurse, kept(nurse, listed(CELLS), "procedures"))
    confirm(nurse, line(Date="14 Mar 2025", **{name: CELLS[name] for name in WHO}))
    entry = TheatreLogEntry.objects.get()
    assert entry.found_as == Procedure.objects.get()
    plan = undo_plan(earlier)
    assert plan.left == {}
    import_undo(kept=earlier, user=nurse, reason="Wrong list", seen=plan.seal)
    assert not Procedure.objects.live().exists()
    entry.refresh_from_db()
    assert (entry.found_as, entry.voided_at) == (None, None)


def test_a_line_that_a_person_set_apart_is_not_changed_under_that_persons_hands(nurse, procedure):
    confirm(nurse, LINE)
    entry = TheatreLogEntry.objects.get()
    line_set_apart(line=entry, expected_version=1, because="Hip replacement", user=nurse)
    assert said(nurse, LINE) == "s"
    assert said(nurse, line(Procedure="Cement augmentation L2")) == "x"


def test_what_a_person_left_open_or_found_survives_a_corrected_operator(nurse, procedure):
    confirm(nurse, LINE, line(7, Date="05 Mar 2027"))
    left, linked = TheatreLogEntry.objects.order_by("pk")
    line_take_back(line=left, expected_version=1, user=nurse)
    line_link(line=linked, expected_version=1, procedure=procedure, user=nurse)
    confirm(nurse, line(Operator="Other"), line(7, Date="05 Mar 2027", Operator="Other"))
    left.refresh_from_db()
    linked.refresh_from_db()
    assert (left.operator_words, left.procedure, left.settled_by) == ("Other", None, nurse)
    assert (linked.operator_words, linked.procedure, linked.settled_by) == (
        "Other", procedure, nurse,
    )  # fmt: skip


def test_a_file_that_finds_a_line_left_open_is_no_persons_word(nurse, procedure):
    confirm(nurse, line(Date="03 Mar 2027"))
    entry = TheatreLogEntry.objects.get()
    line_take_back(line=entry, expected_version=1, user=nurse)
    confirm(nurse, LINE)
    entry.refresh_from_db()
    assert (entry.performed_on, entry.procedure, entry.settled_by) == (DAY, procedure, None)


def test_a_line_whose_procedure_was_set_aside_is_corrected_by_a_file(nurse, procedure):
    confirm(nurse, line(Date="03 Mar 2027"))
    entry = TheatreLogEntry.objects.get()
    line_link(line=entry, expected_version=1, procedure=procedure, user=nurse)
    assert said(nurse, LINE) == "x"
    with acting("test"):
        Procedure.objects.update(voided_at="2027-03-05T10:00Z", void_reason="Wrong patient")
    assert said(nurse, LINE) == "c"


def test_a_reference_in_another_case_with_another_day_is_the_same_line(nurse, procedure):
    confirm(nurse, LINE | {"Reference": "2027-a1"})
    confirm(nurse, LINE | {"Reference": "2027-A1", "Date": "03 Mar 2027"})
    assert [str(one.performed_on) for one in TheatreLogEntry.objects.live()] == ["2027-03-03"]
    with acting("test"), pytest.raises(IntegrityError, match="log_entry_once_per_reference"):
        TheatreLogEntry.objects.create(
            site=nurse.site, performed_on=DAY, reference="2027-A1", hospital_number="H9"
        )


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
