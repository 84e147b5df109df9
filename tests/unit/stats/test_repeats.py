"""Two readings of each body: published values, a growing spread, ratios, and too little."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.stats.agreement import icc_agreement, limits_of_agreement, repeatability
from reports.stats.repeats import FEWEST_FOR_GROWTH, ratio_limits, repeated, spread_growth

# Bland, Altman. Lancet 1986;i:307-310, Table 1: first readings by two meters, second by each.
LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
LARGE_AGAIN = [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
MINI_AGAIN = [525, 415, 508, 444, 500, 625, 460, 390, 642, 432, 420, 605, 227, 467, 268, 370, 443]
# Shrout, Fleiss. Psychol Bull 1979;86:420-428, Table 2.
RATED = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
bodies = st.lists(
    st.tuples(st.integers(50, 400), st.integers(50, 400)), min_size=12, max_size=25
).map(lambda rows: ([a / 10 for a, _ in rows], [b / 10 for _, b in rows]))


@pytest.mark.parametrize(
    ("first", "second", "coefficient", "within"),
    [(LARGE, LARGE_AGAIN, 43.2, 15.3), (MINI, MINI_AGAIN, 56.4, 19.9)],
)
def test_repeatability_has_its_published_values(first, second, coefficient, within):
    # Coefficient of 1986 with 2 SD, printed from rounded steps (found second-hand); the
    # within-subject SD of 1999 (from memory).
    found = repeatability(first=first, second=second)
    assert 2 * math.sqrt(2) * found.within_sd == pytest.approx(coefficient, abs=0.1)
    assert found.within_sd == pytest.approx(within, abs=0.06)


def test_the_limits_have_an_interval_of_the_published_width():
    # Printed 40.9 to 110.1 for the upper limit, from 2 SD and sqrt(3 s²/n); from memory.
    found = limits_of_agreement(first=LARGE, second=MINI)
    low, high = found.upper_interval
    assert (high - low) / 2 == pytest.approx((110.1 - 40.9) / 2, abs=0.3)


def test_the_correlation_has_its_published_interval():
    # psych::ICC in R on these data, form (2,1): 0.02 to 0.76 (found).
    found = icc_agreement(ratings=RATED)
    assert (found.lower, found.upper) == (
        pytest.approx(0.02, abs=0.005),
        pytest.approx(0.76, abs=0.005),
    )


def test_a_difference_is_second_minus_first():
    found = repeated([20.0, 22.0, 19.0], [21.0, 23.5, 19.5])
    assert found.agreement.bias == pytest.approx(1.0)
    assert (found.n, found.growth, found.ratio) == (3, None, None)


def test_a_spread_that_grows_with_the_size_is_seen_and_given_as_ratios():
    chance = random.Random(4)
    first = [chance.uniform(5, 40) for _ in range(80)]
    second = [one * math.exp(chance.gauss(0.05, 0.08)) for one in first]
    found = repeated(first, second)
    assert found.growth.grows
    assert found.ratio.ratio == pytest.approx(math.exp(0.05), rel=0.03)
    assert found.ratio.lower == pytest.approx(math.exp(0.05 - 1.96 * 0.08), rel=0.05)
    low, high = found.ratio.upper_interval
    assert low < found.ratio.upper < high


def test_a_spread_that_does_not_grow_is_left_as_differences():
    chance = random.Random(11)
    first = [chance.uniform(5, 40) for _ in range(80)]
    second = [one + chance.gauss(0, 1) for one in first]
    found = repeated(first, second)
    assert not found.growth.grows
    assert found.ratio is None


def test_a_spread_that_shrinks_is_not_called_growing():
    first = [float(n) for n in range(1, 31)]
    second = [one + (-1) ** place * (31 - one) / 10 for place, one in enumerate(first)]
    assert spread_growth(first, second).tau < 0
    assert not spread_growth(first, second).grows


def test_growth_is_not_looked_for_in_few_pairs_or_without_spread():
    few = [float(n) for n in range(1, FEWEST_FOR_GROWTH)]
    assert spread_growth(few, [2 * one for one in few]) is None
    many = [float(n) for n in range(1, 20)]
    assert spread_growth(many, [one + 1 for one in many]) is None


def test_ratios_need_values_above_nought():
    assert ratio_limits([1.0, 2.0, 0.0], [1.0, 2.0, 1.0]) is None
    assert ratio_limits([1.0], [1.1]) is None


@given(bodies)
def test_a_scale_leaves_correlation_growth_and_ratios_alone(rows):
    first, second = rows
    once, tenfold = (
        repeated(first, second),
        repeated([10 * a for a in first], [10 * b for b in second]),
    )
    assert tenfold.repeatability.within_sd == pytest.approx(10 * once.repeatability.within_sd)
    assert tenfold.icc.icc == pytest.approx(once.icc.icc) or once.icc.icc is None
    assert (tenfold.ratio is None) == (once.ratio is None)
    if once.ratio is not None:
        assert tenfold.ratio.upper == pytest.approx(once.ratio.upper)


def test_the_interval_of_the_spread_within_holds_what_it_claims():
    chance, held, runs = random.Random(2027), 0, 400
    for _ in range(runs):
        bodies_seen = [chance.uniform(12, 30) for _ in range(30)]
        first, second = ([body + chance.gauss(0, 0.9) for body in bodies_seen] for _ in range(2))
        found = repeatability(first=first, second=second)
        held += found.within_sd_lower <= 0.9 <= found.within_sd_upper
    assert 0.92 <= held / runs <= 0.98
