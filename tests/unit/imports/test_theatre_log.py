"""Lines of a theatre log: which procedure each is, and what becomes of it."""

from datetime import date, timedelta

import pytest

from register.imports.people import KnownPeople, KnownPerson
from register.imports.reading import ReadFile, read_file
from register.imports.theatre_log.columns import COLUMNS
from register.imports.theatre_log.judging import KnownLine, judge
from register.imports.theatre_log.kind import THEATRE_LOG
from register.imports.theatre_log.matching import (
    NEAR_DAYS,
    KnownProcedure,
    LogLine,
    Outcome,
    RegisterSide,
    match,
    match_all,
)
from register.imports.verdicts import Kind
from tests.factories import nhs_number
from tests.theatre_log_files import DAY, LINE, TODAY, letters, line, log, without

NHS, NHS_2 = nhs_number(900), nhs_number(901)
MAUD = {
    "hospital_number": "H00104711",
    "nhs_number": NHS,
    "family_name": "Zoëbeck",
    "given_name": "Maud",
    "date_of_birth": date(1942, 5, 11),
    "sex": "female",
    "date_of_death": None,
}


def person(pk: int = 1, **values) -> KnownPerson:
    more = {key: values.pop(key) for key in ("set_aside", "undone") if key in values}
    return KnownPerson(model="patient", pk=pk, version=1, values=MAUD | values, **more)


def side(*procedures: date, people: tuple[KnownPerson, ...] = (person(),), lines_of=None):
    """The register with some procedures of patient 1, numbered from 11."""
    known = tuple(KnownProcedure(number, day) for number, day in enumerate(procedures, start=11))
    return RegisterSide(KnownPeople.of(people), {1: known}, lines_of or {})


def said_by(day: date = DAY, id: int | None = None, **who: str) -> LogLine:
    return LogLine(who or {"hospital_number": "H00104711"}, day, id)


def test_one_procedure_of_the_patient_and_day_is_found():
    found = match(said_by(), side(DAY, DAY - timedelta(days=3)))
    assert (found.outcome, found.procedure_id, found.patient_id) == (Outcome.FOUND, 11, 1)
    by_nhs = match(said_by(nhs_number=NHS, family_name="ZOËBECK"), side(DAY))
    assert by_nhs.outcome is Outcome.FOUND


@pytest.mark.parametrize(
    ("line", "register", "words"),
    [
        (said_by(hospital_number="H9"), side(DAY), "No patient has these numbers."),
        (said_by(hospital_number="104711"), side(DAY), "No patient has these numbers."),
        (
            said_by(hospital_number="4711"),
            side(DAY, people=(person(hospital_number="0004711"),)),
            "may have removed zeros",
        ),
        (
            said_by(hospital_number="H00104711", family_name="Other"),
            side(DAY),
            "Family name: the file says Other",
        ),
        (
            said_by(hospital_number="H00104711", nhs_number=NHS_2),
            side(DAY, people=(person(), person(2, hospital_number="H2", nhs_number=NHS_2))),
            "two different patients",
        ),
        (said_by(), side(DAY, people=(person(set_aside=True),)), "set aside"),
        (said_by(), side(DAY, people=(person(set_aside=True, undone=True),)), "No patient has"),
        (said_by(), side(DAY, people=(person(date_of_death=date(2027, 3, 1)),)), "died on 01 Mar"),
        (said_by(), side(), "known, without a procedure on that day."),
        (
            said_by(),
            side(DAY - timedelta(days=NEAR_DAYS)),
            "on that day; one is recorded for 25 Feb 2027.",
        ),
        (said_by(), side(DAY - timedelta(days=NEAR_DAYS + 1)), "on that day."),
        (
            said_by(),
            side(DAY + timedelta(days=NEAR_DAYS)),
            "on that day; one is recorded for 11 Mar 2027.",
        ),
        (said_by(), side(DAY + timedelta(days=NEAR_DAYS + 1)), "on that day."),
    ],
)  # fmt: skip
def test_anything_less_is_not_found_and_says_why(line, register, words):
    found = match(line, register)
    assert found.outcome is Outcome.NONE
    assert found.procedure_id is None
    assert words in found.reason


def test_two_procedures_or_two_lines_of_one_day_are_for_a_person():
    assert match(said_by(), side(DAY, DAY)).outcome is Outcome.SEVERAL
    two = match_all({"a": said_by(), "b": said_by(nhs_number=NHS)}, side(DAY))
    assert {one.outcome for one in two.values()} == {Outcome.SEVERAL}
    assert {one.procedure_id for one in two.values()} == {None}


def test_a_procedure_that_another_line_is_already_is_not_found_again_but_its_own_line_keeps_it():
    register = side(DAY, lines_of={11: frozenset({5})})
    assert match(said_by(), register).outcome is Outcome.SEVERAL
    assert match(said_by(id=5), register).procedure_id == 11


# --- what becomes of each row


def read(*lines) -> ReadFile:
    return read_file(log(*lines), kind=THEATRE_LOG, date_order="dmy", today=TODAY)


def known(cells=LINE, *, by_hand=(), **more) -> KnownLine:
    """The recorded line of some cells, as if a file had brought it."""
    blank = {column.field: "" for column in COLUMNS} | {"absent": {}}
    values = blank | dict(read(cells).rows[0].values)
    return KnownLine(
        model="theatrelogentry", pk=5, version=3, values=values, by_hand=frozenset(by_hand), **more
    )


def verdicts(*lines, recorded=(), register=None):
    return judge(7, read(*lines), recorded, register or side())


def test_a_line_is_new_whoever_it_is_about_and_no_patient_is_made():
    stranger = line(1, Hospital_number="H9", Family_name="Nobody")
    one, other = verdicts(LINE, stranger, register=side(DAY))
    assert (one.kind, other.kind) == (Kind.KNOWN, Kind.NEW)
    assert [addition.model for addition in (*one.additions, *other.additions)] == [
        "theatrelogentry",
        "theatrelogentry",
    ]
    assert one.additions[0].values["procedure_id"] == 11
    assert one.additions[0].values["site_id"] == 7
    assert other.additions[0].values["procedure_id"] is None
    assert one.notes == ("Found: a procedure of this patient is recorded for that day.",)
    assert other.notes == ("Not found in the register. No patient has these numbers.",)


def test_a_recorded_line_is_the_same_or_filled_or_changed():
    bare = known(without(LINE, "Operator"))
    assert letters(verdicts(LINE, recorded=[known()])) == "s"
    filled = verdicts(LINE, recorded=[bare])[0]
    assert filled.notes == ("Operator: not recorded → Person",)
    assert filled.edits[0].values == {"operator_words": "Person"}
    changed = verdicts(line(Procedure="Cement augmentation L2"), recorded=[known()])[0]
    assert changed.notes == ("Procedure: Cement augmentation L1 → Cement augmentation L2",)
    blank = verdicts(without(LINE, "Code", "Operator"), recorded=[known()])[0]
    assert blank.kind is Kind.SAME


def test_what_a_person_put_there_is_for_a_person_to_change():
    verdict = verdicts(line(Operator="Other"), recorded=[known(by_hand=["operator_words"])])[0]
    assert verdict.kind is Kind.CONFLICT
    assert "a person recorded Person" in verdict.reasons[0]


def test_a_corrected_day_is_looked_for_again():
    moved = line(Date="03 Mar 2027")
    found = verdicts(moved, recorded=[known()], register=side(DAY - timedelta(days=1)))[0]
    assert found.edits[0].values == {
        "performed_on": date(2027, 3, 3), "procedure_id": 11, "settled_by_id": None,
    }  # fmt: skip
    lost = verdicts(moved, recorded=[known(procedure_id=11)], register=side(DAY))[0]
    assert lost.edits[0].values["procedure_id"] is None
    assert "one is recorded for 04 Mar 2027" in lost.notes[-1]


def test_a_reference_never_passes_to_another_patient():
    verdict = verdicts(line(Hospital_number="H9"), recorded=[known()])[0]
    assert verdict.kind is Kind.CONFLICT
    assert "put the year in front of the reference" in verdict.reasons[0]


def test_what_a_person_said_about_a_line_stands():
    settled = known(procedure_id=11, is_settled=True)
    other = verdicts(line(Procedure="Hip replacement"), recorded=[settled])[0]
    assert other.kind is Kind.CONFLICT
    assert "a person said that this line is a recorded procedure" in other.reasons[0]
    assert verdicts(line(Operator="Other"), recorded=[settled])[0].edits[0].values == {
        "operator_words": "Other"
    }


def test_a_reference_does_not_join_two_who_share_no_number():
    by_nhs = known(without(LINE | {"NHS Number": NHS}, "Hospital number", "Family name"))
    verdict = verdicts(LINE, recorded=[by_nhs])[0]
    assert verdict.kind is Kind.CONFLICT
    assert "Hospital number H00104711 for this reference, and NHS Number" in verdict.reasons[0]
    both = verdicts(line(NHS_Number=NHS), recorded=[by_nhs])[0]
    assert both.edits[0].values["hospital_number"] == "H00104711"


def test_a_correction_that_does_not_say_whose_or_when_looks_for_nothing():
    left_open = verdicts(line(Operator="Other"), recorded=[known()], register=side(DAY))[0]
    assert left_open.edits[0].values == {"operator_words": "Other"}
    by_hand = known(procedure_id=12)
    kept = verdicts(line(Procedure="Cement L2"), recorded=[by_hand], register=side(DAY))[0]
    assert kept.edits[0].values == {"procedure_words": "Cement L2"}


def test_a_reference_is_the_same_in_any_case():
    recorded = known(LINE | {"Reference": "2027-a1"})
    moved = verdicts(LINE | {"Reference": "2027-A1", "Date": "03 Mar 2027"}, recorded=[recorded])[0]
    assert (moved.kind, moved.edits[0].pk) == (Kind.CHANGED, 5)


@pytest.mark.parametrize("turned", [False, True])
def test_a_recorded_line_is_taken_once_and_by_its_reference_first(turned):
    rows = [line(Date="03 Mar 2027"), without(LINE, "Reference")]
    told = verdicts(*(rows[::-1] if turned else rows), recorded=[known()])
    moved, other = told[::-1] if turned else told
    assert (moved.kind, moved.edits[0].pk) == (Kind.CHANGED, 5)
    assert (other.kind, other.edits) == (Kind.KNOWN, ())


def test_a_line_without_reference_is_known_by_day_patient_and_procedure():
    nameless = without(LINE, "Reference")
    assert letters(verdicts(nameless, recorded=[known(nameless)])) == "s"
    assert letters(verdicts(nameless, recorded=[known()])) == "s"
    named = verdicts(LINE, recorded=[known(nameless)])[0]
    assert named.edits[0].values == {"reference": "2027-0412"}
    other = without(line(Procedure="Hip replacement"), "Reference")
    assert verdicts(other, recorded=[known(nameless)])[0].kind is Kind.KNOWN


def test_two_rows_do_not_take_the_same_recorded_line():
    nameless = without(LINE, "Reference")
    assert letters(verdicts(line(1), line(2), recorded=[known(nameless)])) == "ck"


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ([LINE, LINE], "ks"),
        ([LINE, line(Procedure="Other")], "xx"),
        ([LINE, without(LINE, "Reference")], "xx"),
        ([without(LINE, "Reference"), without(LINE, "Reference", "Operator")], "xx"),
        ([line(1), line(2)], "kk"),
        ([without(LINE, "Hospital number")], "r"),
        ([without(LINE, "Procedure")], "r"),
        ([line(Date="08 Mar 2027")], "r"),
        ([line(Hospital_number="1.1E+11")], "r"),
        ([line(NHS_Number=NHS[:-1] + str((int(NHS[-1]) + 1) % 10))], "r"),
    ],
)
def test_rows_that_repeat_quarrel_or_cannot_be_read(lines, expected):
    assert letters(verdicts(*lines)) == expected
