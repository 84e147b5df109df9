"""Names that are easily mixed up."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.names import similar_names


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("Arden", "Maud"), ("Arden", "Mary")),
        (("Arden", "Maud"), ("Ardan", "Maud")),
        (("Arden", "Maud"), ("Ardens", "Maud")),
        (("Arden", "Maud"), ("Aden", "Maud")),
        (("O'Neil", "Maud"), ("ONEIL", "Meg")),
        (("Müller", "Ida"), ("Muller", "Ines")),
    ],
)
def test_alike_names_are_marked_on_both(one, other):
    assert similar_names([(1, *one), (2, *other)]) == {1, 2}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (("Arden", "Maud"), ("Arden", "Ruth")),
        (("Arden", "Maud"), ("Broome", "Maud")),
        (("Arden", "Maud"), ("Adern", "Maud")),
    ],
)
def test_unlike_names_are_not(one, other):
    assert similar_names([(1, *one), (2, *other)]) == set()


def one_letter_apart(one: str, other: str) -> bool:
    """The plain definition, tried letter by letter."""
    if abs(len(one) - len(other)) > 1:
        return False
    if len(one) == len(other):
        return sum(a != b for a, b in zip(one, other, strict=True)) <= 1
    short, long = sorted((one, other), key=len)
    return any(short == long[:place] + long[place + 1 :] for place in range(len(long)))


@given(st.lists(st.text("abc", min_size=1, max_size=5), min_size=2, max_size=12))
def test_the_marks_are_those_of_the_plain_definition(names):
    people = [(place, name, "Ada") for place, name in enumerate(names)]
    expected = {
        place
        for place, name in enumerate(names)
        for place_2, name_2 in enumerate(names)
        if place != place_2 and one_letter_apart(name, name_2)
    }
    assert similar_names(people) == expected
