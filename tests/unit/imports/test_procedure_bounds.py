"""Lists of earlier procedures: both sides of every bound, and days that may be the same."""

from datetime import date
from pathlib import Path

import pytest
from django.conf import settings

from register.imports.people import KnownPeople
from register.imports.procedures.judging import judge
from register.imports.procedures.kind import PROCEDURES
from register.imports.procedures.known import KnownTechnique
from register.imports.reading import read_file
from register.imports.verdicts import seal
from tests.procedure_lists import BARE, TODAY, kinds, line_of, person, row, verdicts

EARLIER = Path(settings.BASE_DIR) / "fixtures" / "procedures" / "earlier.csv"


def reasons(cells):
    return " ".join(line_of(cells).reasons)


@pytest.mark.parametrize(
    ("born", "words"),
    [("15 Mar 1904", ""), ("14 Mar 1904", "makes the patient more than 120 years old.")],
)
def test_a_patient_of_121_years_is_a_mistyped_year(born, words):
    told = reasons(row(BARE, Date_of_birth=born))
    assert words in told
    assert bool(words) == bool(told)


@pytest.mark.parametrize(
    ("cells", "name"),
    [
        ({"Discharged": "20 Mar 2025"}, "Discharged"),
        ({"Readmitted": "20 Mar 2025"}, "Readmitted"),
        ({"Complications": "infection (20 Mar 2025)"}, "Complications"),
    ],
)
def test_nothing_happens_to_a_patient_after_the_death(cells, name):
    cells = row(BARE, **cells)
    assert not reasons(row(cells, Date_of_death="20 Mar 2025"))
    told = reasons(row(cells, Date_of_death="19 Mar 2025"))
    assert told == f"{name}: 20 Mar 2025 is after the date of death."
    [verdict] = verdicts(cells, known=[person(died_on=date(2025, 3, 19))])
    assert "died on 19 Mar 2025" in verdict.reasons[0]
    assert kinds(cells, known=[person(died_on=date(2025, 3, 20))]) == ["known"]


@pytest.mark.parametrize(
    "column",
    ["Date of death", "Discharged", "Complications", "Onset date", "Referral date", "Readmitted"],
)
def test_what_may_fall_on_the_day_of_the_procedure(column):
    day = "14 Mar 2025"
    cells = {column: f"infection ({day})" if column == "Complications" else day}
    assert not reasons(BARE | cells)
    assert not reasons(BARE | cells | {"Discharged": day})


def test_a_return_on_the_day_of_the_discharge():
    left = row(BARE, Discharged="20 Mar 2025")
    assert not reasons(row(left, Readmitted="20 Mar 2025"))
    assert "is before the discharge" in reasons(row(left, Readmitted="19 Mar 2025"))


@pytest.mark.parametrize(
    ("side", "usual", "unusual"),
    [
        ("left", "6", "6.1"),
        ("midline", "6", "6.1"),
        ("left and right", "8", "8.1"),
        ("", "8", "8.1"),
        ("not known", "8", "8.1"),
        ("left", "0.5", "0.4"),
        ("", "0.5", "0.4"),
    ],
)
def test_cement_that_is_just_usual_and_just_not(side, usual, unusual):
    cells = row(BARE, Levels="L1", Side=side)
    assert kinds(row(cells, Cement_mL=usual)) == ["new"]
    [verdict] = verdicts(row(cells, Cement_mL=unusual))
    assert verdict.reasons[0].startswith(f"L1, Cement: {unusual} mL is unusual; most lie between")


@pytest.mark.parametrize(
    ("column", "usual", "unusual"),
    [
        ("Dose-area product Gy cm2", "150", "150.1"),
        ("Dose-area product Gy cm2", "0.1", "0.09"),
        ("Fluoroscopy s", "1200", "1201"),
        ("Fluoroscopy s", "5", "4"),
    ],
)
def test_dose_and_time_that_are_just_usual_and_just_not(column, usual, unusual):
    assert kinds(BARE | {column: usual}) == ["new"]
    [verdict] = verdicts(BARE | {column: unusual})
    assert f": {unusual} " in verdict.reasons[0]
    assert "is unusual" in verdict.reasons[0]


def test_the_list_to_try_holds_the_troubles_that_its_page_names():
    names = ("balloon", "cement", "expandable")
    there = [KnownTechnique(pk, name, name) for pk, name in enumerate(names)]
    file = read_file(EARLIER.read_bytes(), kind=PROCEDURES, date_order="dmy", today=TODAY)
    assert seal(judge(file, KnownPeople.of(()), there)) == "nknnnrrrxxr"
