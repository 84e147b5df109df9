"""What one cell may hold, and the files that go out."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings

from register.domain.vocabulary import ANTITHROMBOTIC
from register.forms.base import possible_range
from register.imports.cells import CellRefused, Reading, drugs, levels, telephone
from register.imports.column import head_of
from register.imports.decoding import FileRefused, looks_damaged
from register.imports.files import empty_file, refused_file
from register.imports.people import KnownPeople
from register.imports.reading import read_file
from register.imports.referrals.columns import COLUMNS
from register.imports.referrals.judging import judge
from register.imports.referrals.kind import REFERRALS
from register.imports.table import guarded, text_table, without_guard
from register.imports.verdicts import seal
from register.models import Referral
from tests.referral_files import CELLS, TODAY, changed, written

HOW = Reading("dmy", TODAY)
NAMES = {column.plain for column in COLUMNS}


def read(*rows, **options):
    return read_file(written(rows, **options), kind=REFERRALS, date_order="dmy", today=TODAY)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("none", ()),
        ("aspirin", (("aspirin", ""),)),
        ("Apixaban (Atrial fibrillation)", (("apixaban", "atrial_fibrillation"),)),
        (
            "warfarin (mechanical heart valve); low molecular weight heparin, prophylactic",
            (("warfarin", "mechanical_valve"), ("lmwh_prophylactic", "")),
        ),
    ],
)
def test_drugs_come_with_their_reason(text, found):
    assert drugs("Blood thinners", text, HOW) == found


@pytest.mark.parametrize(
    "text", ["aspirin (stroke", "aspirin; aspirin", "aspirin (gout)", "rat poison"]
)
def test_drugs_that_cannot_be_told_are_refused(text):
    with pytest.raises(CellRefused, match="Blood thinners"):
        drugs("Blood thinners", text, HOW)


def test_every_drug_is_read_by_its_words_and_by_its_code():
    for code, words in ANTITHROMBOTIC:
        for text in (code, words, words.upper()):
            assert drugs("Blood thinners", text, HOW) == ((code, ""),)


@pytest.mark.parametrize(
    "text", ["T12 L1", "L1;T12", "t12, l1", "T12+L1", "L1 and T12", "T12 & L1"]
)
def test_levels_stand_from_the_head_down(text):
    assert levels("Levels", text, HOW) == ("T12", "L1")


@pytest.mark.parametrize("text", ["01632 960123", "+44 7700 900123", "01632 960123 ext 12"])
def test_a_telephone_number_keeps_its_spelling(text):
    assert telephone("Telephone", text, HOW) == text


def test_only_what_is_given_is_in_the_row_and_blank_is_not_no():
    row = read(
        CELLS | {"Steroids": "", "Cancer": "not recorded"}, names=[*CELLS, "Steroids", "Cancer"]
    ).rows[0]
    assert "takes_steroids" not in row.referral
    assert "cancer_history" not in row.referral
    assert "absent" not in row.referral


def test_a_reason_is_kept_as_a_reason():
    cells = changed(Blood_thinners="declined", Tender="not done", Pain_on_movement="not known")
    row = read(cells, names=cells).rows[0]
    assert row.referral["absent"] == {
        "takes_antithrombotics": "declined",
        "pain_moving": "not_known",
    }
    assert row.fracture["absent"] == {"tender": "not_done"}
    assert row.drugs == ()


def test_all_reasons_against_a_row_are_told_at_once():
    cells = changed(Levels="D12", Pain_on_movement="80", Date_of_birth="31 Jun 1942")
    reasons = read(cells, names=cells).lines[0].reasons
    assert [reason.split()[0] for reason in reasons] == ["Date", "Levels:", "Pain"]


def test_row_numbers_are_those_of_a_spreadsheet():
    file = read({}, CELLS, {}, changed(Given_name="Beryl"))
    assert [line.number for line in file.lines] == [3, 5]


def test_numbers_are_held_to_the_ranges_of_the_tables():
    for column in COLUMNS:
        if column.part != "referral" or column.field not in (
            "pain_rest",
            "pain_moving",
            "weight_kg",
            "height_cm",
        ):
            continue
        bounds = possible_range(Referral, column.field)
        for value in (bounds["min_value"], bounds["max_value"]):
            assert column.read(column.name, str(value), HOW) == Decimal(value)
        for value in (bounds["min_value"] - 1, bounds["max_value"] + 1):
            with pytest.raises(CellRefused):
                column.read(column.name, str(value), HOW)


def test_what_is_not_read_is_named():
    head = head_of([*CELLS, "Postcod", "Ward bed"], COLUMNS)
    assert head.unknown == ("Postcod", "Ward bed")


def test_the_empty_file_holds_every_column_and_no_row():
    with pytest.raises(FileRefused, match="no rows below"):
        read_file(empty_file(REFERRALS), kind=REFERRALS, date_order="dmy", today=TODAY)
    head = text_table(empty_file(REFERRALS), names=NAMES).head
    assert list(head) == [column.name for column in COLUMNS]


def test_every_example_of_the_page_can_be_read():
    names = [column.name for column in COLUMNS]
    row = {column.name: column.example for column in COLUMNS}
    file = read_file(
        written([row], names=names), kind=REFERRALS, date_order="dmy", today=date(2027, 3, 7)
    )
    assert file.lines[0].reasons == ()


LIVE = ["=1+1", "+1", "-1", "@x", "\t=1", "|x", "%x", "'x", "=HYPERLINK(1)", "＝1", "＠x"]


@pytest.mark.parametrize("cell", [*LIVE, "Ashbeck", "", "04 Mar 2027"])
def test_a_guarded_cell_runs_nothing_and_comes_back_as_it_was(cell):
    assert not guarded(cell).startswith(tuple("=+-@\t|%＝＋－＠"))
    assert without_guard(guarded(cell)) == cell


def test_refused_rows_go_out_with_reasons_and_come_back_as_they_were():
    cells = changed(Family_name="=1+1", Levels="D12")
    file = read(cells)
    out = refused_file(file, judge(file, KnownPeople.of([])))
    assert b"'=1+1" in out
    assert b",=1+1" not in out
    again = read_file(out, kind=REFERRALS, date_order="dmy", today=TODAY)
    assert again.head.unknown == ()
    assert again.lines[0].cells[1:] == file.lines[0].cells
    assert again.lines[0].reasons == file.lines[0].reasons


@pytest.mark.parametrize(
    ("text", "whole"),
    [("ZoÃ«", "Zoë"), ("Zo\ufffd", "Zo?"), ("Zoë", ""), ("Ann", ""), ("Łódź", "")],
)
def test_damaged_letters_are_noticed(text, whole):
    assert looks_damaged(text) == whole


FILES = Path(settings.BASE_DIR) / "fixtures" / "referrals"
DAY_OF_THE_FILES = date(2026, 11, 25)


def verdicts_of(name: str) -> str:
    content = (FILES / name).read_bytes()
    file = read_file(content, kind=REFERRALS, date_order="dmy", today=DAY_OF_THE_FILES)
    return seal(judge(file, KnownPeople.of([])))


@pytest.mark.parametrize(
    ("name", "verdicts"),
    [("fresh.csv", "n" * 15), ("ward.csv", "nnn"), ("trouble.csv", "n" + "r" * 21 + "sxxnrr")],
)
def test_the_files_to_try_become_what_their_list_says(name, verdicts):
    assert verdicts_of(name) == verdicts


def test_the_fresh_referrals_fill_every_kind_of_column():
    content = (FILES / "fresh.csv").read_bytes()
    rows = read_file(content, kind=REFERRALS, date_order="dmy", today=DAY_OF_THE_FILES).rows
    given = {
        name for row in rows for part in (row.patient, row.referral, row.fracture) for name in part
    }
    assert given >= {"interpreter_needed", "onset_on", "infection_signs", "tender", "absent"}
    assert {len(row.levels) for row in rows} == {1, 2}
    assert sum(bool(row.drugs) for row in rows) >= 4
    assert sum(bool(row.laboratory) for row in rows) >= 4


def test_the_empty_file_is_the_one_the_page_gives_out():
    assert (FILES / "empty.csv").read_bytes() == empty_file(REFERRALS)


@pytest.mark.parametrize(
    ("born", "words"),
    [("05 Mar 1906", []), ("04 Mar 1906", ["makes the patient more than 120 years old."])],
)
def test_a_patient_of_121_years_is_a_mistyped_year(born, words):
    reasons = read(changed(Date_of_birth=born)).lines[0].reasons
    assert [reason.partition("1906 ")[2] for reason in reasons] == words
