"""Control charts, run charts and funnels: frozen baselines, and no signal from nothing."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.stats.charts import (
    cusum_chart,
    ewma_chart,
    g_chart,
    individuals_chart,
    laney_chart,
    p_chart,
    t_chart,
)
from reports.stats.funnel import funnel_limits, funnel_overdispersion, widened_limits
from reports.stats.runs import run_chart, run_chart_limits

values = st.lists(st.integers(0, 100), min_size=2, max_size=40)


@given(values, st.integers(-1000, 1000))
def test_a_bad_quarter_never_widens_its_own_limits(points, last):
    frozen = individuals_chart(values=[*points, last], baseline=len(points))
    before = individuals_chart(values=points)
    assert (frozen.lower, frozen.centre, frozen.upper) == (
        before.lower,
        before.centre,
        before.upper,
    )


@given(values)
def test_a_value_inside_the_limits_is_never_outside(points):
    found = individuals_chart(values=points)
    for place, value in enumerate(points):
        assert (place in found.outside) == (
            value < found.lower - 1e-12 or value > found.upper + 1e-12
        )


def test_the_p_chart_of_a_small_department_cannot_signal_improvement():
    # Its lower limit is 0 unless n > 9(1 - p)/p; 12 cases at 10 % are far from that.
    found = p_chart(events=[1, 2, 1, 1], total=[12, 13, 12, 11])
    assert set(found.lower) == {0.0}


def test_laneys_limits_are_never_narrower_than_binomial_ones():
    events, total = [50, 51, 49, 50], [100, 100, 100, 100]
    plain, wide = p_chart(events=events, total=total), laney_chart(events=events, total=total)
    assert wide.sigma_z < 1
    assert wide.upper == pytest.approx(plain.upper)


def test_gaps_and_times():
    assert g_chart(gaps=[10, 10, 10]).upper == pytest.approx(10 + 3 * math.sqrt(110))
    assert g_chart(gaps=[1, 2, 1, 200], baseline=3).outside == (3,)
    # First transformed times of Montgomery, Table 7.14 (computed from the formula).
    assert pytest.approx(4.8099, abs=0.003) == 286 ** (1 / 3.6)
    found = t_chart(times=[286, 948, 536, 124, 816, 729])
    assert found.lower <= found.centre <= found.upper
    assert found.outside == ()


@given(st.lists(st.floats(-5, 5), min_size=1, max_size=30), st.floats(0, 1))
def test_a_cumulative_sum_mirrors_with_its_values(points, slack):
    one = cusum_chart(values=points, target=0, slack=slack, decision=4)
    other = cusum_chart(values=[-p for p in points], target=0, slack=slack, decision=4)
    assert one.upper == pytest.approx(other.lower)
    assert one.outside == other.outside


def test_exact_limits_of_the_moving_average_grow_to_the_asymptotic_ones():
    exact = ewma_chart(values=[50.0] * 60, weight=0.3, target=50, sigma=2)
    wide = ewma_chart(values=[50.0] * 60, weight=0.3, target=50, sigma=2, limits="asymptotic")
    assert list(exact.upper) == sorted(exact.upper)
    assert exact.upper[-1] == pytest.approx(wide.upper[-1])


@given(st.lists(st.integers(0, 10), min_size=1, max_size=60))
def test_a_run_chart_reads_the_same_upside_down_and_backwards(points):
    one = run_chart(values=points)
    mirrored = run_chart(values=[-p for p in points])
    backwards = run_chart(values=points[::-1])
    assert (one.useful, one.longest_run, one.crossings, one.signal) == (
        mirrored.useful, mirrored.longest_run, mirrored.crossings, mirrored.signal,
    )  # fmt: skip
    assert (one.longest_run, one.crossings) == (backwards.longest_run, backwards.crossings)


def test_the_longest_run_of_chance_is_no_signal_and_one_more_is():
    for n in (12, 20, 24):
        limit = run_chart_limits(points=[n]).longest_run[0]
        for length, signal in ((limit, False), (limit + 1, True)):
            rest = [1, -1] * n
            points = ([1] * length + [-1] + rest)[:n]
            found = run_chart(values=[*points, *[0] * n])  # zeros hold the median at 0
            assert found.longest_run == length
            assert found.signal == signal


@given(st.floats(0.01, 0.99), st.integers(1, 400))
def test_funnel_limits_hold_the_target_and_the_wider_hold_the_narrower(target, size):
    found = funnel_limits(target=target, total=[size])
    assert found.lower_998[0] <= found.lower_95[0] <= found.upper_95[0] <= found.upper_998[0]
    assert found.lower_95[0] <= target + 0.5 / size
    assert found.upper_95[0] >= target - 0.5 / size


def test_units_that_vary_by_chance_alone_show_no_overdispersion():
    found = funnel_overdispersion(events=[10, 11, 9, 10], total=[100, 100, 100, 100])
    assert found.tau2 == 0
    wide = widened_limits(target=0.1, total=[100], tau2=0.01, tail=0.975)
    plain = widened_limits(target=0.1, total=[100], tau2=0.0, tail=0.975)
    assert wide > plain
