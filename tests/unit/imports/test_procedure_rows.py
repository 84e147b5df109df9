"""Lists of earlier procedures: what a row says, what it cannot say, and what a row becomes."""

from datetime import date
from decimal import Decimal

import pytest

from register.imports.cells import Absent
from register.imports.procedures.known import KnownTechnique, technique_meant
from register.imports.procedures.rows import LevelTold
from register.imports.verdicts import Kind
from tests.procedure_lists import (
    BALLOON,
    BARE,
    CELLS,
    CEMENT,
    DONE,
    another,
    complication,
    kinds,
    leak,
    line_of,
    person,
    procedure,
    row,
    treated,
    verdicts,
)


def test_a_full_row_says_exactly_what_stands_in_it():
    line = line_of(CELLS)
    told = line.row
    assert line.reasons == ()
    assert (told.performed_on, told.referred_on) == (DONE, date(2025, 3, 2))
    assert told.levels == {
        "T12": LevelTold(
            {"side": "left", "approach": "transpedicular", "biopsy_taken": False},
            Decimal("4.5"),
            (("epidural", "basivertebral"), ("upper_disc", "")),
        ),
        "L1": LevelTold(
            {"side": "both", "approach": "transpedicular", "biopsy_taken": False},
            Decimal("3.0"),
            (),
        ),
    }
    assert (told.seen_on, told.consequence) == ("fluoroscopy", "none")
    assert told.complications == (("infection", date(2025, 3, 20), "II"),)
    assert told.fracture == {
        "cause": "osteoporotic", "onset_on": date(2025, 2, 12), "onset_precision": "day",
    }  # fmt: skip
    assert told.procedure == {
        "operator_words": "R. Inkpen",
        "anaesthesia": "sedation",
        "level_check": "counted_sacrum",
        "antibiotic": "cefazolin",
        "complication_check": "some",
        "dose_area_gy_cm2": Decimal("12.5"),
        "fluoroscopy_s": 95,
        "discharged_on": date(2025, 3, 15),
        "readmitted_on": date(2025, 3, 21),
        "note": "From the department's old list.",
    }


def test_what_a_row_does_not_say_is_not_recorded_and_never_no():
    told = line_of(BARE).row
    assert told.levels == {"T12": LevelTold(), "L1": LevelTold()}
    assert told.levels["T12"].leaks is None
    assert (told.procedure, told.fracture, told.complications) == ({}, {}, ())


def test_a_level_that_the_leaks_do_not_name_stays_not_recorded():
    told = line_of(row(Leaks="T12 none", Leak_consequence="")).row
    assert (told.levels["T12"].leaks, told.levels["L1"].leaks) == ((), None)


@pytest.mark.parametrize(
    ("cells", "level", "expected"),
    [
        ({"Leaks": "none", "Leak_consequence": ""}, "L1", ()),
        ({"Leaks": "T12: leak; L1 none"}, "T12", (("", ""),)),
        ({"Leaks": "L1 paraspinal (segmental vein)"}, "L1", (("paraspinal", "segmental"),)),
        ({"Levels": "L1", "Side": "", "Cement_mL": "3", "Leaks": "disc below"}, "L1",
         (("lower_disc", ""),)),
    ],
)  # fmt: skip
def test_spellings_of_leaks(cells, level, expected):
    line = line_of(row(**cells))
    assert line.reasons == ()
    assert line.row.levels[level].leaks == expected


def test_reasons_for_no_value_are_kept_at_every_level_they_mean():
    cells = row(Side="not known", Cement_mL="T12 not known; L1 3.0", Leaks="not done",
                Leaks_looked_for_on="", Leak_consequence="", Complications="not known",
                Anaesthesia="not known")  # fmt: skip
    line = line_of(cells)
    assert line.reasons == ()
    t12 = line.row.levels["T12"]
    assert t12.given["absent"] == {"side": "not_known", "leak_check": "not_done"}
    assert (t12.volume_ml, t12.leaks) == (Absent("not_known"), None)
    absent = {"complication_check": "not_known", "anaesthesia": "not_known"}
    assert line.row.procedure["absent"] == absent


def test_a_level_where_nobody_looked_needs_no_images():
    line = line_of(row(Leaks="T12 not done", Leaks_looked_for_on="", Leak_consequence=""))
    assert line.reasons == ()
    assert line.row.levels["T12"].given["absent"] == {"leak_check": "not_done"}


def test_a_consequence_belongs_to_the_one_leak_of_its_row():
    line = line_of(row(Leaks="T12 epidural; L1 none", Leak_consequence="symptoms, settled"))
    assert (line.reasons, line.row.consequence) == ((), "symptoms")


BAD = [
    ({"Procedure_date": ""}, "Procedure date is empty"),
    ({"Technique": ""}, "Technique is empty"),
    ({"Levels": ""}, "Levels is empty"),
    ({"Levels": "T12-L1"}, "“T12-L1” is not a level"),
    ({"Procedure_date": "01 May 1942"}, "before the date of birth"),
    ({"Procedure_date": "14 Mar 2099"}, "has not come yet"),
    ({"Onset_date": "15 Mar 2025"}, "Onset date: 15 Mar 2025 is after the procedure"),
    ({"Onset_date": "05 Mar 2025"}, "after the referral date"),
    ({"Referral_date": "15 Mar 2025"}, "Referral date: 15 Mar 2025 is after the procedure"),
    ({"Date_of_death": "13 Mar 2025"}, "Date of death: 13 Mar 2025 is before the procedure"),
    ({"Discharged": "13 Mar 2025"}, "Discharged: 13 Mar 2025 is before the procedure"),
    ({"Readmitted": "14 Mar 2025"}, "before the discharge"),
    ({"Cement_mL": "4.5"}, "write each level with its own value"),
    ({"Cement_mL": "T12 4.5; T12 3"}, "a level stands there twice"),
    ({"Cement_mL": "T12 45"}, "Cement mL of T12 must be from 0 to 20 mL"),
    ({"Cement_mL": "T12 4.55"}, "Cement mL of T12"),
    ({"Cement_mL": "T12 4.5; L3 3"}, "L3 is not among the levels"),
    ({"Cement_mL": "T13 4.5; L1 3"}, "“T13” is not a level"),
    ({"Leaks": "epidural"}, "write each level with its own value"),
    ({"Leaks": "T12 spinal canal"}, "“spinal canal” is not one of the answers"),
    ({"Leaks": "T12 epidural; T12 none"}, "cannot have a leak and none"),
    ({"Leaks": "T12 epidural; T12 epidural"}, "stands there twice"),
    ({"Leaks_looked_for_on": ""}, "Leaks looked for on is empty"),
    ({"Leaks": ""}, "Leaks names nothing that was seen"),
    ({"Leaks": "T12 not done", "Leak_consequence": ""}, "Leaks names nothing that was seen"),
    ({"Leak_consequence": "symptoms, settled"}, "the row has several leaks. Leave the cell empty"),
    ({"Leaks": "none"}, "there is no leak in the row"),
    ({"Complications": "infection"}, "write the day of “infection” in brackets"),
    ({"Complications": "infection (20/03/2025)"}, "the month as a word"),
    ({"Complications": "infection (13 Mar 2025)"}, "Complications: 13 Mar 2025 is before"),
    ({"Complications": "infection (20 Mar 2025, VI)"}, "“VI” is not one of the answers"),
    ({"Side": "T12 left; both"}, "write each level with its own value"),
    ({"Dose-area_product_Gy_cm2": "2001"}, "Dose-area product"),
    ({"Fluoroscopy_s": "1.5"}, "Fluoroscopy s"),
]


@pytest.mark.parametrize(("cells", "words"), BAD, ids=lambda value: str(value)[:40])
def test_what_cannot_be_is_refused_with_the_reason(cells, words):
    line = line_of(row(**cells))
    assert line.row is None
    assert words in " ".join(line.reasons)


# --- techniques ----------------------------------------------------------------------


def test_a_technique_is_meant_by_its_name_or_by_its_way_when_that_is_one():
    two = KnownTechnique(3, "Balloon tamping, curved", "balloon")
    assert technique_meant("balloon  TAMPING", [BALLOON, two]) == (BALLOON, "")
    assert technique_meant("cement alone", [BALLOON, CEMENT]) == (CEMENT, "")
    assert (
        "Balloon tamping; Balloon tamping, curved"
        in technique_meant("balloon tamping and cement", [BALLOON, two])[1]
    )
    assert "Enter it under Techniques" in technique_meant("posterior fixation", [BALLOON])[1]
    words = technique_meant("laser", [BALLOON, CEMENT])[1]
    assert "is not one of these: Balloon tamping; cement alone; balloon tamping and" in words


# --- verdicts ------------------------------------------------------------------------


def test_rows_of_one_patient_and_of_another():
    second = row(BARE, Procedure_date="01 Jun 2025", Levels="L3")
    assert kinds(BARE, second, another(), BARE) == ["new", "known", "new", "same"]


def test_rows_that_contradict_each_other_are_for_a_person():
    other_level = row(BARE, Levels="L3")
    [_, verdict] = verdicts(BARE, other_level)
    assert "Keep one row, with all levels in it" in verdict.reasons[0]
    death = row(BARE, Procedure_date="01 Jun 2025", Date_of_death="02 Jun 2025")
    again = row(BARE, Procedure_date="03 Jun 2025")
    assert "died on 02 Jun 2025" in verdicts(death, again)[1].reasons[0]
    assert "a day after this date of death" in verdicts(again, death)[1].reasons[0]


def test_a_procedure_of_somebody_known_who_lived():
    assert kinds(BARE, known=[person()]) == ["known"]
    [verdict] = verdicts(BARE, known=[person(died_on=date(2025, 1, 1))])
    assert (verdict.kind, verdict.edits) == (Kind.CONFLICT, ())


def test_a_recorded_procedure_of_a_list_is_filled():
    there = person(procedures=(procedure("T12", "L1"),))
    assert kinds(BARE, known=[there]) == ["same"]
    [verdict] = verdicts(CELLS, known=[there])
    assert verdict.kind is Kind.CHANGED
    notes = " | ".join(verdict.notes)
    assert "T12, Cement mL: 4.5 is added." in notes
    assert "T12, Leaks: not recorded → epidural (basivertebral vein); disc above" in notes
    assert "L1, Leaks: not recorded → looked for, none seen" in notes
    added = [addition.model for addition in verdict.additions]
    assert added == ["complication", "leak", "leak", "cementuse", "cementuse"]


def test_a_procedure_recorded_here_is_compared_and_left():
    signed = procedure("T12", "L1", state="signed", operator="Sam Person")
    assert kinds(row(BARE, Operator="R. Inkpen"), known=[person(procedures=(signed,))]) == ["same"]
    [verdict] = verdicts(row(BARE, Anaesthesia="general anaesthesia"),
                         known=[person(procedures=(signed,))])  # fmt: skip
    assert verdict.kind is Kind.CONFLICT
    assert "was recorded here (signed)" in verdict.reasons[0]
    assert (verdict.edits, verdict.additions) == ((), ())


@pytest.mark.parametrize(
    ("cells", "there", "words"),
    [
        ({"Levels": "T12"}, procedure("T12", "L1"), "Levels: the file says T12, recorded are"),
        ({}, procedure("T12", technique=CEMENT), "T12 was treated that day by Cement alone"),
    ],
)
def test_levels_and_techniques_that_differ_are_for_a_person(cells, there, words):
    [verdict] = verdicts(row(BARE, **cells), known=[person(procedures=(there,))])
    assert verdict.kind is Kind.CONFLICT
    assert words in verdict.reasons[0]


def test_an_unlikely_number_needs_its_reason():
    cells = row(Cement_mL="T12 9.5; L1 12", Fluoroscopy_s="2000")  # T12 from one side, L1 both
    [verdict] = verdicts(cells)
    assert verdict.kind is Kind.CONFLICT
    assert [reason.partition(" is ")[0] for reason in verdict.reasons] == [
        "Fluoroscopy: 2000 s", "T12, Cement: 9.5 mL", "L1, Cement: 12 mL",
    ]  # fmt: skip
    assert "most lie between 0.5 and 6 mL (common practice; confirm locally)" in verdict.reasons[1]
    assert "most lie between 0.5 and 8 mL" in verdict.reasons[2]
    assert kinds(cells | {"Why unlikely": "Two levels filled through one needle"}) == ["new"]


@pytest.mark.parametrize(
    ("there", "words"),
    [
        ({"seen_on": date(2025, 9, 2)}, "A contact of 02 Sep 2025 is recorded"),
        ({"procedures": (procedure("L3", on=date(2025, 9, 2)),)}, "A procedure of 02 Sep 2025"),
    ],
)
def test_nobody_is_treated_or_seen_after_a_death_from_a_list(there, words):
    [verdict] = verdicts(row(BARE, Date_of_death="01 Sep 2025"), known=[person(**there)])
    assert verdict.kind is Kind.CONFLICT
    assert words in verdict.reasons[0]
    assert kinds(row(BARE, Date_of_death="02 Sep 2025"), known=[person(**there)]) == ["known"]


def of_leaks(cells, level):
    cells = row(BARE, Levels="T12", Leaks_looked_for_on="fluoroscopy", **cells)
    [verdict] = verdicts(cells, known=[person(procedures=(procedure(level),))])
    return verdict


def test_a_leak_without_its_place_is_not_none():
    there = treated("T12", leak_check="leak", leak_checked_on="fluoroscopy")
    verdict = of_leaks({"Leaks": "none"}, there)
    assert "looked for, none seen, recorded is place not recorded" in verdict.reasons[0]
    assert of_leaks({"Leaks": "leak"}, there).kind is Kind.SAME
    told = of_leaks({"Leaks": "leak", "Leak_consequence": "needed treatment"}, there)
    assert "“needed treatment” is not taken over" in told.notes[0]


def test_images_and_consequence_of_recorded_leaks_are_weighed():
    seen = {"leak_check": "leak", "leak_checked_on": "fluoroscopy"}
    cells = {"Leaks": "epidural", "Leak_consequence": "symptoms, settled"}
    verdict = of_leaks(cells, treated("T12", leaks=[leak("epidural")], **seen))
    assert verdict.notes == ("T12, Leak epidural, consequence: not recorded → symptoms, settled",)
    assert [(e.model, e.values) for e in verdict.edits] == [("leak", {"consequence": "symptoms"})]
    by_hand = leak("epidural", consequence="none", by_hand=frozenset(["consequence"]))
    verdict = of_leaks(cells, treated("T12", leaks=[by_hand], **seen))
    assert "symptoms, settled, a person recorded none" in verdict.reasons[0]
    on_ct = seen | {"leak_checked_on": "ct"}
    verdict = of_leaks({"Leaks": "epidural"}, treated("T12", leaks=[leak("epidural")], **on_ct))
    assert verdict.notes == ("T12, Leaks looked for on: CT → fluoroscopy",)


def test_the_grade_of_a_recorded_complication_is_weighed():
    day = date(2025, 3, 20)
    cells = row(BARE, Complications="infection (20 Mar 2025, II)")

    def of(*trouble):
        there = procedure("T12", "L1", trouble=trouble, complication_check="some")
        [verdict] = verdicts(cells, known=[person(procedures=(there,))])
        return verdict

    assert of(complication("infection", day)).edits[0].values == {"grade": "II"}
    assert of(complication("infection", day, "II")).kind is Kind.SAME
    by_hand = complication("infection", day, "I", by_hand=frozenset(["grade"]))
    assert "grade of infection of 20 Mar 2025: the file says II" in of(by_hand).reasons[0]
    pair = complication("infection", day, "I"), complication("infection", day, "II", pk=61)
    assert of(*pair).kind is Kind.SAME
    assert of(complication("embolism", day)).additions[0].values["grade"] == "II"
