"""Proportions: properties that hold for every count, and refusals in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from reports.stats.proportions import (
    clustered_proportion,
    newcombe_difference,
    wilson_interval,
    zero_event_upper_limit,
)

counts = st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
clusters = st.lists(
    st.integers(1, 4).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))),
    min_size=1,
    max_size=30,
)


@given(counts)
def test_wilson_holds_the_share_and_stays_inside_nought_to_one(count):
    events, total = count
    found = wilson_interval(events=events, total=total)
    assert 0 <= found.lower <= events / total <= found.upper <= 1
    assert found.upper - found.lower > 0


@given(counts)
def test_wilson_of_the_opposite_event_is_the_mirror_image(count):
    events, total = count
    one = wilson_interval(events=events, total=total)
    other = wilson_interval(events=total - events, total=total)
    assert one.lower == pytest.approx(1 - other.upper, abs=1e-12)
    assert one.upper == pytest.approx(1 - other.lower, abs=1e-12)


@given(st.integers(1, 300), st.data())
def test_wilson_limits_rise_with_the_events(total, data):
    events = data.draw(st.integers(0, total - 1))
    fewer = wilson_interval(events=events, total=total)
    more = wilson_interval(events=events + 1, total=total)
    assert fewer.lower < more.lower
    assert fewer.upper < more.upper


@given(counts)
def test_more_confidence_is_never_narrower(count):
    events, total = count
    at_95 = wilson_interval(events=events, total=total, confidence=0.95)
    at_998 = wilson_interval(events=events, total=total, confidence=0.998)
    assert at_998.lower <= at_95.lower
    assert at_95.upper <= at_998.upper


@given(counts, counts)
def test_newcombe_holds_the_difference_and_turns_with_the_groups(one, two):
    (a, m), (b, n) = one, two
    forth = newcombe_difference(events_1=a, total_1=m, events_2=b, total_2=n)
    back = newcombe_difference(events_1=b, total_1=n, events_2=a, total_2=m)
    assert -1 <= forth.lower <= a / m - b / n + 1e-12
    assert a / m - b / n - 1e-12 <= forth.upper <= 1
    assert forth.lower == pytest.approx(-back.upper, abs=1e-12)


@given(st.integers(1, 5000))
def test_the_zero_event_limit_is_the_exact_one_sided_binomial_limit(total):
    upper = zero_event_upper_limit(total=total)
    exact = stats.binomtest(0, total, alternative="less").proportion_ci(0.95, method="exact")
    assert upper == pytest.approx(exact.high, rel=1e-9)
    assert stats.binom.pmf(0, total, upper) == pytest.approx(0.05, rel=1e-9)


@given(clusters)
def test_clusters_never_narrow_the_interval(rows):
    events, total = [e for e, _ in rows], [t for _, t in rows]
    found = clustered_proportion(events=events, total=total)
    plain = wilson_interval(events=sum(events), total=sum(total))
    assert found.design_effect >= 1
    assert 0 <= found.lower <= plain.lower + 1e-9
    assert plain.upper - 1e-9 <= found.upper <= 1


def test_single_levels_that_agree_by_patient_are_no_more_than_the_plain_interval():
    found = clustered_proportion(events=[0] * 20, total=[1] * 20)
    plain = wilson_interval(events=0, total=20)
    assert found.design_effect == 1.0
    assert found.standard_error == 0.0
    assert (found.lower, found.upper) == pytest.approx((plain.lower, plain.upper))


def test_levels_that_move_together_count_as_patients():
    pairs = clustered_proportion(events=[2] * 10 + [0] * 30, total=[2] * 40)
    patients = wilson_interval(events=10, total=40)
    assert pairs.design_effect == pytest.approx(2, rel=0.03)
    assert pairs.upper == pytest.approx(patients.upper, abs=0.005)


@pytest.mark.parametrize(("events", "total"), [(-1, 10), (11, 10), (0, 0), (1.0, 3), (True, 3)])
def test_impossible_counts_are_refused_with_both_numbers(events, total):
    with pytest.raises(ValueError, match=f"got {events} of {total}"):
        wilson_interval(events=events, total=total)


@pytest.mark.parametrize("confidence", [0, 1.0, 95, "0.95"])
def test_a_confidence_that_is_not_a_fraction_is_refused(confidence):
    with pytest.raises(ValueError, match=r"fraction such as 0\.95"):
        wilson_interval(events=1, total=2, confidence=confidence)


@pytest.mark.parametrize(("events", "total"), [([], []), ([1], [1, 2])])
def test_clusters_without_their_totals_are_refused(events, total):
    with pytest.raises(ValueError, match="its events and its total"):
        clustered_proportion(events=events, total=total)
