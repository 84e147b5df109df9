"""The table of awkward files: none is silently wrong, and a wrong value would be seen."""

from dataclasses import replace
from datetime import date

from register.drills import files
from tests.referral_files import CASES, TODAY, TRUTH
from tests.referral_workbooks import WORKBOOKS
from tests.score_files import CASES as SCORES


def test_no_awkward_file_is_silently_wrong_and_each_has_its_outcome():
    told: list[str] = []
    assert files.run(runs=1, seed=1, say=told.append), "\n".join(told)
    number = len(CASES) + len(WORKBOOKS) + len(SCORES)
    assert told[-1] == f"{number} files, silently wrong 0, otherwise than expected 0."


def test_the_table_is_a_table():
    names = [case.name for case in (*CASES, *WORKBOOKS, *SCORES)]
    assert len(CASES) >= 80
    assert len(WORKBOOKS) >= 40
    assert len(SCORES) >= 40
    assert len(set(names)) == len(names)


def test_a_value_that_is_not_the_truth_is_counted():
    case = replace(CASES[0], truth=TRUTH | {"date_of_birth": date(1942, 11, 5)})
    found = files.outcome_of(case, today=TODAY)
    assert found.wrong == [
        "date_of_birth is taken as datetime.date(1942, 5, 11), "
        "the truth is datetime.date(1942, 11, 5)"
    ]
    assert files.differences(case, found) == found.wrong


def test_an_outcome_that_is_not_the_expected_one_is_told():
    asked = next(case for case in CASES if case.asks == "letters")
    found = files.outcome_of(asked, today=TODAY)
    assert files.differences(replace(asked, asks=""), found)
    assert files.differences(replace(asked, rows="r"), found)
