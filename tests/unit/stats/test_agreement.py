"""Agreement of readings: published values beyond the packs, symmetry, and too little data."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.stats.agreement import icc_agreement, limits_of_agreement, repeatability

FIRST = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
SECOND = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
pairs = st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=2, max_size=30)


def test_the_bias_has_its_published_interval():
    # Bland, Altman. Lancet 1986;i:307-310, Table 1: -22.1 to 17.8 (seen second-hand, unrounded).
    found = limits_of_agreement(first=FIRST, second=SECOND)
    assert found.bias_interval == pytest.approx((-22.0488, 17.8135), abs=5e-4)


@given(pairs)
def test_readers_may_change_places(rows):
    one, two = [a for a, _ in rows], [b for _, b in rows]
    found, turned = (
        limits_of_agreement(first=one, second=two),
        limits_of_agreement(first=two, second=one),
    )
    assert found.bias == pytest.approx(-turned.bias)
    assert found.lower == pytest.approx(-turned.upper)
    assert repeatability(first=one, second=two) == repeatability(first=two, second=one)


def test_the_coefficient_is_277_times_the_spread_within():
    found = repeatability(first=[20.1, 22.0, 18.4], second=[20.5, 21.2, 18.4])
    assert found.coefficient / found.within_sd == pytest.approx(1.96 * math.sqrt(2))
    assert found.within_sd_lower < found.within_sd < found.within_sd_upper


def test_one_pair_shows_no_spread():
    found = limits_of_agreement(first=[20.0], second=[21.5])
    assert found.bias == -1.5
    assert found.lower is None
    assert repeatability(first=[20.0], second=[21.5]).within_sd_lower is None


def test_readers_who_agree_wholly_have_a_correlation_of_one():
    assert icc_agreement(ratings=[[1, 1], [2, 2], [5, 5]]).icc == pytest.approx(1)


def test_subjects_all_alike_have_none():
    assert icc_agreement(ratings=[[3, 3], [3, 3]]).icc is None


def test_a_constant_error_lowers_agreement():
    close = icc_agreement(ratings=[[1, 1.1], [2, 2.0], [5, 5.1]]).icc
    apart = icc_agreement(ratings=[[1, 2.1], [2, 3.0], [5, 6.1]]).icc
    assert apart < close
