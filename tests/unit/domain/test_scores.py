"""The instruments: ranges, words, and what makes the page ask once."""

import pytest

from register.domain.scores import INSTRUMENTS, impossible, unlikely, worst_below_now
from register.domain.vocabulary import INSTRUMENT, codes


def test_every_instrument_of_the_vocabulary_is_described_in_order():
    assert list(INSTRUMENTS) == codes(INSTRUMENT)


@pytest.mark.parametrize(
    ("code", "value", "refused"),
    [
        ("pain_now", 0, False),
        ("pain_now", 10, False),
        ("pain_now", 11, True),
        ("pain_now", -1, True),
        ("disability_24", 24, False),
        ("disability_24", 25, True),
        ("mobility", 4, False),
        ("mobility", 5, True),
    ],
)
def test_the_range_ends_where_the_instrument_ends(code, value, refused):
    assert bool(impossible(code, value)) is refused


def test_the_refusal_says_the_range():
    assert impossible("pain_now", 11) == ("Pain now is a whole number from 0 to 10. Type it again.")


@pytest.mark.parametrize(("before", "now", "asked"), [(8, 3, False), (8, 2, True), (2, 8, True)])
def test_a_jump_of_six_points_of_pain_is_questioned_either_way(before, now, asked):
    question = unlikely("pain_now", now, before=before, told_on="12 Feb 2027")
    assert bool(question) is asked
    assert not asked or f"was {before} on 12 Feb 2027 and is now {now}" in question


def test_nothing_is_questioned_without_a_value_before():
    assert unlikely("pain_now", 10, before=None, told_on="") == ""


def test_ten_falls_are_questioned_even_without_a_value_before():
    assert unlikely("falls", 9, before=None, told_on="") == ""
    assert unlikely("falls", 10, before=None, told_on="").startswith("Falls")


def test_a_worst_pain_below_the_pain_now_is_questioned():
    assert worst_below_now({"pain_now": 5, "pain_worst": 5}) == ""
    assert worst_below_now({"pain_now": 5, "pain_worst": 4}).startswith("The worst pain, 4,")
    assert worst_below_now({"pain_now": None, "pain_worst": 4}) == ""


@pytest.mark.parametrize(
    ("code", "value", "words"),
    [
        ("pain_now", 3, "3"),
        ("analgesic_step", 2, "2 weak opioid"),
        ("mobility", 4, "4 walks without aid"),
        ("mobility", 0, "0 in bed"),
        ("bone_drug", 0, "0 no"),
        ("falls", None, "not recorded"),
    ],
)
def test_a_value_is_told_with_its_meaning(code, value, words):
    assert INSTRUMENTS[code].words(value) == words
