"""Means and medians: properties, what is not defined, and refusals in words."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.stats.averages import mean_t_interval, median_interval, paired_t

scores = st.integers(-10, 10)
samples = st.lists(scores, min_size=1, max_size=60)


@given(samples, scores)
def test_the_mean_interval_moves_with_the_sample(values, shift):
    here = mean_t_interval(values=values)
    there = mean_t_interval(values=[v + shift for v in values])
    assert there.mean == pytest.approx(here.mean + shift, abs=1e-9)
    if here.lower is not None:
        assert here.lower <= here.mean <= here.upper
        assert there.upper == pytest.approx(here.upper + shift, abs=1e-9)


@given(samples)
def test_the_mean_interval_of_the_negatives_is_the_mirror_image(values):
    here = mean_t_interval(values=values)
    mirror = mean_t_interval(values=[-v for v in values])
    if here.lower is not None:
        assert here.lower == pytest.approx(-mirror.upper, abs=1e-9)


@given(st.lists(scores, min_size=2, max_size=40))
def test_the_t_test_and_the_interval_agree_about_nought(values):
    test, limits = paired_t(differences=values), mean_t_interval(values=values)
    if test.p is not None and not math.isclose(test.p, 0.05, abs_tol=1e-6):
        assert (test.p < 0.05) is (not limits.lower <= 0 <= limits.upper)


@given(samples)
def test_the_median_interval_holds_the_median_and_needs_six_values(values):
    found = median_interval(values=values)
    assert (found.lower is None) is (len(values) < 6)
    if found.lower is not None:
        assert found.lower <= found.median <= found.upper


def test_one_value_has_a_mean_and_no_interval():
    assert mean_t_interval(values=[4]).lower is None
    assert paired_t(differences=[4]).standard_error is None


def test_equal_differences_have_no_test():
    found = paired_t(differences=[-3, -3, -3])
    assert (found.mean, found.standard_error, found.t, found.p) == (-3, 0, None, None)


@pytest.mark.parametrize("values", [[], [1, None], [1, math.nan], [1, math.inf], [1, "2"]])
@pytest.mark.parametrize(
    "average",
    [
        lambda v: mean_t_interval(values=v),
        lambda v: median_interval(values=v),
        lambda v: paired_t(differences=v),
    ],
)
def test_missing_values_are_refused_and_never_read_as_nought(average, values):
    with pytest.raises(ValueError, match=r"sample (is empty|holds finite numbers)"):
        average(values)
