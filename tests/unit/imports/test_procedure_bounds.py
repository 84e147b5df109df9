"""Lists of earlier procedures: both sides of every bound, and days that may be the same."""

import pytest

from tests.procedure_lists import BARE, line_of, row


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
