"""What fits: a published pair on both sides of its bound, the supplier’s table, missing numbers."""

from decimal import Decimal

import pytest

from register.domain.approach.fit import (
    ARITHMETIC,
    SUPPLIER,
    Room,
    Size,
    distinct,
    fits_of,
    isthmus_fit,
)

D = Decimal
ROOMY = Room(D("7.0"), D("14.0"), D("32.0"))


ONE_MM = D("1.0")


def answers(size, room=ROOMY, clearance=ONE_MM):
    (fit,) = fits_of([size], room, clearance_mm=clearance)
    return fit, {answer.part: answer for answer in fit.answers}


@pytest.mark.parametrize(
    ("isthmus", "device", "fits"),
    [("5.0", "4.0", True), ("4.9", "4.0", False), ("5.0", "4.1", False), (5.1, 4.1, True)],
)
def test_the_isthmus_takes_the_device_and_its_clearance(isthmus, device, fits):
    """Kaur et al. 2016: pedicles under 5 mm do not take a 4 mm screw (clearance 1 mm)."""
    assert isthmus_fit(isthmus, device, "1.0") is fits


@pytest.mark.parametrize("wrong", [(0, 4, 1), (5, -1, 1), (5, 4, -1), (5, "wide", 1)])
def test_impossible_sizes_are_refused(wrong):
    with pytest.raises(ValueError, match="must be"):
        isthmus_fit(*wrong)


def test_without_a_table_diameter_and_length_are_compared():
    fit, told = answers(Size("Implant", D("5.0"), D("30.0")))
    assert fit.fits is True
    assert {answer.basis for answer in fit.answers} == {ARITHMETIC}
    assert told["isthmus"].words == "5.0 mm and 1.0 mm clearance"
    for tight, part in (
        (Room(D("5.9"), D(14), D(32)), "isthmus"),
        (Room(D("7.0"), D("4.9"), D(32)), "height"),
        (Room(D("7.0"), D(14), D("29.9")), "depth"),
    ):
        fit, told = answers(Size("Implant", D("5.0"), D("30.0")), tight)
        assert fit.fits is False
        assert [a.part for a in fit.answers if a.fits is False] == [part]


def test_the_suppliers_table_goes_before_the_arithmetic_in_both_directions():
    strict = Size("Implant", D("5.0"), D("30.0"), D("8.0"), D("20.0"), D("33"), D("40"))
    assert [a.fits for a in answers(strict)[0].answers] == [False] * 3
    lenient = Size("Implant", D("6.8"), D("34.0"), D("6.0"), D("10.0"), D("20"), D("40"))
    fit, told = answers(lenient)
    assert [a.fits for a in fit.answers] == [True] * 3
    assert {a.basis for a in fit.answers} == {SUPPLIER}
    assert told["depth"].words == "20 to 40 mm"


@pytest.mark.parametrize(
    ("low", "high", "fits", "words"),
    [
        (D(32), None, True, "32 mm or more"), (D("32.1"), None, False, "32.1 mm or more"),
        (None, D(32), True, "up to 32"), (None, D("31.9"), False, "up to 31.9"),
    ],
)  # fmt: skip
def test_a_range_of_depth_may_be_open_at_one_end(low, high, fits, words):
    told = answers(Size("Implant", depth_from_mm=low, depth_to_mm=high))[1]["depth"]
    assert (told.fits, words in told.words) == (fits, True)


def test_what_is_missing_is_never_a_no_and_never_a_yes():
    size = Size("Implant", D("5.0"), D("30.0"))
    assert [a.fits for a in answers(size, Room())[0].answers] == [None] * 3
    assert answers(size, Room())[0].fits is None
    assert answers(size, clearance=None)[1]["isthmus"].fits is None
    fit, told = answers(Size("Implant"))
    assert fit.fits is None
    assert (told["height"].words, told["height"].basis) == ("nothing entered", "")
    known_no = fits_of([size], Room(D("4.0")), clearance_mm=D("1.0"))[0]
    assert known_no.fits is False, "one certain no is enough"


def test_a_lot_without_the_table_does_not_stand_beside_one_that_has_it():
    bare, sized = Size("Implant 5.0 mm"), Size("Implant 5.0 mm", D("5.0"))
    tabled = Size("Implant 5.0 mm", D("5.0"), isthmus_from_mm=D("7.0"))
    other, contrary = Size("Implant 4.2 mm"), Size("Implant 5.0 mm", D("5.1"))
    assert distinct([bare, sized, tabled, tabled, other]) == [tabled, other]
    assert distinct([tabled, contrary]) == [tabled, contrary], "a contradiction is shown"
