"""Rare counts, and counts that leave the department without giving anybody away."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.stats.counts import (
    hidden_cells,
    poisson_exact_interval,
    small_number_suppression,
    standardised_ratio,
)

tables = st.integers(2, 4).flatmap(
    lambda wide: st.lists(
        st.lists(st.integers(0, 30), min_size=wide, max_size=wide), min_size=2, max_size=4
    )
)


@given(st.integers(0, 200))
def test_the_limits_hold_the_count_and_rise_with_it(events):
    found, more = poisson_exact_interval(events=events), poisson_exact_interval(events=events + 1)
    assert found.lower <= events <= found.upper
    assert found.lower < more.lower
    assert found.upper < more.upper


def test_a_ratio_is_one_where_all_is_as_expected():
    assert standardised_ratio(observed=8, expected=8.0).ratio == 1


@given(st.lists(st.integers(0, 500)))
def test_no_small_count_is_ever_shown(counts):
    shown = small_number_suppression(counts=counts, suppress_from=1, suppress_to=7, round_to=5)
    for count, words in zip(counts, shown, strict=True):
        assert (words == "*") == (1 <= count <= 7)
        if words != "*":
            assert abs(int(words) - count) <= 2
            assert int(words) % 5 == 0


def test_halves_are_rounded_up():
    shown = small_number_suppression(counts=[25], suppress_from=1, suppress_to=7, round_to=10)
    assert shown == ["30"]


@given(tables)
def test_no_hidden_count_can_be_told_from_a_total(table):
    hidden = hidden_cells(table, suppress_from=1, suppress_to=7)
    for r, row in enumerate(table):
        assert sum((r, c) in hidden for c in range(len(row))) != 1
    for c in range(len(table[0])):
        assert sum((r, c) in hidden for r in range(len(table))) != 1
    for r, c in product(range(len(table)), range(len(table[0]))):
        if 1 <= table[r][c] <= 7:
            assert (r, c) in hidden


def test_a_table_without_small_counts_hides_nothing():
    assert not hidden_cells([[0, 8], [20, 9]], suppress_from=1, suppress_to=7)


def test_the_second_hidden_count_is_the_smallest_other():
    assert hidden_cells([[3, 9, 40], [12, 50, 60]], suppress_from=1, suppress_to=7) >= {
        (0, 0),
        (0, 1),
    }


@pytest.mark.parametrize("count", [1.0, True, -1])
def test_what_is_no_count_is_refused(count):
    with pytest.raises(ValueError, match="count"):
        small_number_suppression(counts=[count], suppress_from=1, suppress_to=7)
