"""The clock: ages, ranges, the last day of the window."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from register.domain.clock import AgeBand, FractureAge, WindowState, age_band, fracture_age, window
from register.domain.protocol import shipped

ONSET = date(2026, 3, 2)
LAST = date(2026, 4, 13)  # day 42


@pytest.mark.parametrize(
    ("on", "state", "left"),
    [
        (ONSET, WindowState.INSIDE, 42),
        (LAST - timedelta(days=1), WindowState.INSIDE, 1),
        (LAST, WindowState.LAST_DAY, 0),
        (LAST + timedelta(days=1), WindowState.CLOSED, -1),
    ],
)
def test_day_42_is_the_last_day_of_a_window_of_42(on, state, left):
    found = window(ONSET, "day", on, window_days=42)
    assert (found.state, found.closes_on, found.days_left) == (state, LAST, left)


def test_the_window_is_a_parameter():
    assert window(ONSET, "day", ONSET, window_days=28).closes_on == date(2026, 3, 30)


def test_without_an_onset_there_is_no_day_at_all():
    found = window(None, "", ONSET, window_days=42)
    assert found.state is WindowState.NO_ONSET
    assert (found.age, found.closes_on, found.closes_on_latest, found.days_left) == (None,) * 4


@pytest.mark.parametrize(
    ("precision", "least", "most", "words"),
    [
        ("day", 38, 38, "38 days"),
        ("", 38, 38, "38 days"),
        ("week", 31, 45, "31 to 45 days"),
        ("month", 9, 39, "9 to 39 days"),
        ("year", 0, 98, "0 to 98 days"),
    ],
)
def test_an_uncertain_onset_gives_a_range(precision, least, most, words):
    age = fracture_age(ONSET, precision, date(2026, 4, 9))
    assert age == FractureAge(least, most)
    assert age.words == words


def test_a_range_that_straddles_the_bound_is_unsure_and_plans_by_the_earlier_day():
    found = window(ONSET, "month", date(2026, 4, 20), window_days=42)
    assert found.state is WindowState.UNSURE
    assert (found.closes_on, found.closes_on_latest) == (date(2026, 4, 12), date(2026, 5, 12))
    assert found.days_left == -8


def test_a_range_is_closed_only_when_every_day_of_it_is():
    assert window(ONSET, "month", date(2026, 5, 12), window_days=42).state is WindowState.UNSURE
    assert window(ONSET, "month", date(2026, 5, 13), window_days=42).state is WindowState.CLOSED


def test_an_onset_in_the_future_is_refused_but_not_one_that_may_be_past():
    with pytest.raises(ValueError, match="The onset lies after this day"):
        fracture_age(ONSET, "day", ONSET - timedelta(days=1))
    assert fracture_age(ONSET, "week", ONSET - timedelta(days=1)) == FractureAge(0, 6)


def test_an_unknown_precision_is_refused():
    with pytest.raises(ValueError, match="'roughly' does not say how exactly"):
        fracture_age(ONSET, "roughly", LAST)


@pytest.mark.parametrize(
    ("days", "band"),
    [
        (0, AgeBand.ACUTE), (42, AgeBand.ACUTE), (43, AgeBand.SUBACUTE),
        (84, AgeBand.SUBACUTE), (85, AgeBand.CHRONIC),
    ],
)  # fmt: skip
def test_each_bound_belongs_to_the_younger_band(days, band):
    assert age_band(days, shipped(ONSET)) is band


@given(
    days=st.integers(0, 500),
    window_days=st.integers(1, 120),
    precision=st.sampled_from(["day", "week", "month", "year"]),
)
def test_the_next_day_is_never_friendlier(days, window_days, precision):
    order = [WindowState.INSIDE, WindowState.LAST_DAY, WindowState.UNSURE, WindowState.CLOSED]
    on = ONSET + timedelta(days=days)
    today, tomorrow = (
        order.index(window(ONSET, precision, day, window_days=window_days).state)
        for day in (on, on + timedelta(days=1))
    )
    assert today <= tomorrow
