"""Device labels: what scanners do to them, and what must never pass silently."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.gs1 import SEPARATOR, Udi, check_digit, is_gtin, parse_udi

GTIN = "51022222233336"
WHOLE = Udi(GTIN, None, date(2027, 3, 31), "A213B1", "1234")
ELEMENTS = f"01{GTIN}17270300" + "10A213B1{}211234"


@pytest.mark.parametrize("separator", [SEPARATOR, "{GS}", "<GS>", "|", "^]"])
@pytest.mark.parametrize("prefix", ["", "]d2", "]C1", "]Q3", SEPARATOR, f"]d2{SEPARATOR}"])
def test_separators_and_prefixes_as_scanners_spell_them(separator, prefix):
    assert parse_udi(prefix + ELEMENTS.format(separator)) == WHOLE


@pytest.mark.parametrize(
    "text",
    [
        f"(01){GTIN}(17)270300(10)A213B1(21)1234",
        f" (01) {GTIN} (17) 270300 (10) A213B1 (21) 1234\n",
    ],
)
def test_the_typed_form_needs_no_separator(text):
    assert parse_udi(text) == WHOLE


def test_day_00_is_the_last_day_of_the_month():
    assert parse_udi(f"(01){GTIN}(17)280200").expires_on == date(2028, 2, 29)


def test_a_wrong_device_identifier_is_refused():
    with pytest.raises(ValueError, match="check digit of the device identifier 51022222233335"):
        parse_udi("(01)51022222233335(10)A213B1")


def test_a_dropped_separator_is_warned_about_and_never_silent():
    found = parse_udi(f"01{GTIN}10LOT41727033121987")
    assert (found.lot, found.serial, found.expires_on) == ("LOT41727033121987", None, None)
    assert "LOT41727033121987 may have swallowed" in found.warnings[0]
    with pytest.raises(ValueError, match="not a whole device label"):
        parse_udi(f"01{GTIN}10LOT4213172703312198765")  # longer than a lot can be


@pytest.mark.parametrize(
    ("lot", "warned"),
    [
        ("A213B1", False),
        ("A21345678901", False),  # twelve characters are usual
        ("A213456789012", True),  # thirteen, with a 21 inside
        ("A333456789012", False),  # thirteen, with neither
        ("A17270331", True),  # an expiry date inside
        ("A17279931", False),  # not a date
    ],
)
def test_a_long_lot_that_holds_another_field_is_warned_about(lot, warned):
    assert bool(parse_udi(f"01{GTIN}10{lot}").warnings) is warned


def test_an_expiry_beside_the_lot_cannot_have_been_swallowed():
    assert not parse_udi(f"01{GTIN}1727033110A17270331").warnings


def test_a_label_without_a_device_identifier_is_shown_with_a_warning():
    found = parse_udi("(10)A213B1(21)1234")
    assert (found.gtin, found.lot) == (None, "A213B1")
    assert found.warnings == ("The label carries no device identifier (01).",)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Nothing was scanned"),
        ("  \n", "Nothing was scanned"),
        ("implant 5.0 mm", "not a whole device label"),
        (f"01{GTIN}17271399", "not a whole device label"),
        (f"(01){GTIN}10)A1", "not a whole device label"),
        (f"(01){GTIN}(", "Not a field of a label"),
        (f"01{GTIN}10A|10B", r"\(10\) stands twice"),
        ("01" + "5" * 200, "longer than a device label"),
    ],
)
def test_what_cannot_be_read_whole_is_refused_with_what_to_do(text, says):
    with pytest.raises(ValueError, match=says):
        parse_udi(text)


@given(st.text(max_size=60))
def test_no_text_breaks_the_reader(text):
    try:
        found = parse_udi(text)
    except ValueError:
        return
    assert found.gtin is None or is_gtin(found.gtin)


@given(digits=st.text("0123456789", min_size=13, max_size=13), place=st.integers(0, 12))
def test_one_mistyped_digit_is_always_noticed(digits, place):
    wrong = digits[:place] + str((int(digits[place]) + 1) % 10) + digits[place + 1 :]
    assert is_gtin(digits + str(check_digit(digits)))
    assert not is_gtin(wrong + str(check_digit(digits)))
