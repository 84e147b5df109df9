"""What of a file's own words about its person differs from the register's."""

from datetime import date

import pytest

from register.domain.image_identity import (
    Known,
    born,
    differences,
    differences_in_words,
    told_in_words,
)

KNOWN = Known("Müller-Hart", "Edith", ("HGH-104", "9990000018"), date(1941, 3, 7), "female")


@pytest.mark.parametrize(
    ("told", "differs"),
    [
        ({"name": "MULLER HART^EDITH", "number": "HGH-104", "birth": "19410307", "sex": "F"}, []),
        ({"number": "999 000 0018"}, []),
        ({"number": "HGH-104", "birth": "1941-03-07"}, []),
        ({"number": "hgh104"}, []),
        ({"name": "Müller-Hart, Edith May", "number": "HGH-104"}, []),
        ({"name": "Muller-Hart^E", "birth": "19410307"}, []),
        ({"name": "MULLER-HART^EDITH^MAY", "number": "HGH-104"}, []),
        ({"name": "HARD^EDITH", "number": "HGH-104"}, ["name"]),
        ({"name": "MULLER-HART^JOHN", "number": "HGH-104"}, ["name"]),
        ({"name": "MULLER-HART^EDITH", "number": "77", "birth": "19410307"}, ["number"]),
        ({"number": "HGH-104", "birth": "19410407"}, ["birth"]),
        ({"number": "HGH-104", "birth": "1941"}, ["birth"]),
        ({"number": "HGH-104", "sex": "M"}, ["sex"]),
        ({"number": "HGH-104", "sex": "O"}, []),
        ({}, ["nothing"]),
        ({"name": "MULLER-HART^EDITH"}, ["nothing"]),
        ({"accession": "A1", "sex": "F"}, ["nothing"]),
    ],
)
def test_what_differs_is_named(told, differs):
    assert differences(told, KNOWN) == differs


def test_an_empty_number_of_the_patient_is_no_number():
    nobody = Known("Hart", "Edith", ("HGH-104", ""), date(1941, 3, 7))
    assert differences({"number": "--"}, nobody) == ["number"]


def test_differences_are_said_in_words():
    assert differences_in_words(["number"]) == "The number differs."
    assert differences_in_words(["name", "birth"]) == "The name and the date of birth differ."
    three = differences_in_words(["name", "number", "sex"])
    assert three == "The name, the number and the sex differ."
    assert differences_in_words(["nothing"]) == "The files do not say whose images these are."


def test_what_a_file_says_is_read_by_people():
    assert told_in_words("birth", "19410307") == "07 Mar 1941"
    assert told_in_words("birth", "unknown") == "unknown"
    assert told_in_words("name", "HART^EDITH^MAY") == "HART, EDITH MAY"
    assert told_in_words("name", "Hart") == "Hart"
    assert told_in_words("sex", "F") == "female"
    assert born("20260230") is None
