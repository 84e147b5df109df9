"""A date in a file is read as declared, or refused with the part that is wrong."""

from datetime import date

import pytest

from register.forms.dates import KnownDate
from register.imports.dates import ORDERS, DateRefused, OtherOrder, read_date

FOURTH_OF_MARCH = KnownDate(date(2027, 3, 4), "day")


@pytest.mark.parametrize(
    ("order", "text"),
    [
        ("dmy", "04/03/2027"),
        ("dmy", "4.3.2027"),
        ("dmy", "4-3-2027"),
        ("mdy", "03/04/2027"),
        ("mdy", "3-4-2027"),
        ("ymd", "2027/03/04"),
        ("ymd", "2027.3.4"),
    ],
)
def test_figures_are_read_in_the_declared_order(order, text):
    assert read_date(text, order) == FOURTH_OF_MARCH


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize(
    "text",
    [
        "2027-03-04",
        "2027-03-04T00:00:00",
        "2027-03-04 00:00:00.000",
        "04 Mar 2027",
        "4 March 2027",
        "4-Mar-2027",
        "04Mar2027",
        "Mar 4, 2027",
        "March 4 2027",
    ],
)
def test_words_and_the_computers_date_are_read_under_every_order(order, text):
    assert read_date(text, order) == FOURTH_OF_MARCH


@pytest.mark.parametrize(
    ("order", "text"),
    [("dmy", "03/25/2027"), ("mdy", "25/03/2027"), ("dmy", "2027/03/04"), ("ymd", "04/03/2027")],
)
def test_a_date_of_another_order_casts_doubt_on_the_file(order, text):
    with pytest.raises(OtherOrder, match="is no date when read"):
        read_date(text, order)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("31/04/2027", "no day 31 in Apr 2027"),
        ("29 Feb 2027", "no day 29 in Feb 2027"),
        ("31/31/2027", "no month 31"),
        ("0/3/2027", "no day 0"),
        ("04/03/27", "four-figure year"),
        ("4 Mar 27", "four-figure year"),
        ("4 Foo 2027", "not a month"),
        ("4 Ma 2027", "not a date"),
        ("4 Ju 2027", "not a date"),
        ("01 Jan 1066", "1880 or later"),
        ("46085", "day number"),
        ("42725.0", "day number"),
        ("2027-03-04 14:05", "time of day"),
        ("2027-03-03T23:00:00Z", "time of day"),
        ("Mar 2027", "has no day"),
        ("2027", "has no day"),
        ("yesterday", "not a date"),
        ("٠٤/٠٣/٢٠٢٧", "not a date"),
    ],
)
def test_anything_else_is_refused_with_the_reason(text, words):
    with pytest.raises(DateRefused, match=words) as refused:
        read_date(text, "dmy")
    assert not isinstance(refused.value, OtherOrder)


@pytest.mark.parametrize(
    ("text", "known"),
    [
        ("Mar 2027", KnownDate(date(2027, 3, 1), "month")),
        ("03/2027", KnownDate(date(2027, 3, 1), "month")),
        ("2027", KnownDate(date(2027, 1, 1), "year")),
        ("04 Mar 2027", FOURTH_OF_MARCH),
    ],
)
def test_an_uncertain_date_is_known_no_finer_than_it_is_written(text, known):
    assert read_date(text, "dmy", may_be_uncertain=True) == known


def test_every_day_of_two_years_survives_every_spelling():
    wrong = []
    for ordinal in range(date(2027, 1, 1).toordinal(), date(2029, 1, 1).toordinal()):
        day = date.fromordinal(ordinal)
        for order, text in (
            ("dmy", f"{day.day}/{day.month}/{day.year}"),
            ("mdy", f"{day.month}/{day.day}/{day.year}"),
            ("ymd", f"{day.year}/{day.month}/{day.day}"),
            ("mdy", day.isoformat()),
            ("ymd", f"{day:%d %b %Y}"),
        ):
            if read_date(text, order).on != day:
                wrong.append((order, text))
    assert wrong == []
