"""Survival and competing causes: published shapes, and what must hold for any data."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from reports.stats.survival import (
    cumulative_incidence,
    kaplan_meier,
    logrank,
    median_follow_up,
    median_time,
    steps_of,
)

MAINTAINED = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
EVENTS = [1, 1, 1, 0, 1, 0, 1, 0, 0, 1, 1, 0, 0, 0, 1, 1, 0, 0, 0, 0, 0]
OTHERS = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
observed = st.lists(st.tuples(st.integers(0, 30), st.integers(0, 2)), min_size=1, max_size=25).map(
    lambda rows: ([t for t, _ in rows], [c for _, c in rows])
)


def test_median_survival_as_published():
    # 23 and 8 weeks: Freireich et al. Blood 1963;21:699-716 (quoted from memory).
    assert median_time(steps_of(MAINTAINED, EVENTS)) == 23
    assert median_time(steps_of(OTHERS, [1] * 21)) == 8


@given(observed, st.integers(0, 30))
def test_survival_and_the_incidence_of_both_causes_add_up_to_one(data, moment):
    time, cause = data
    alive = kaplan_meier(time=time, event=[int(c > 0) for c in cause], at=[moment]).survival[0]
    parts = [
        cumulative_incidence(time=time, cause=cause, of_cause=c, at=[moment]).incidence[0]
        for c in (1, 2)
    ]
    if alive is None:
        assert parts == [None, None]
    else:
        assert alive + sum(parts) == pytest.approx(1, abs=1e-12)


@given(observed, st.integers(0, 30))
def test_with_one_cause_the_incidence_is_one_less_survival_with_greenwoods_error(data, moment):
    time, cause = data
    event = [int(c > 0) for c in cause]
    alive = kaplan_meier(time=time, event=event, at=[moment])
    fallen = cumulative_incidence(time=time, cause=event, of_cause=1, at=[moment])
    assume(alive.standard_error[0] is not None)
    assert fallen.standard_error[0] == pytest.approx(alive.standard_error[0], abs=1e-9)


def test_an_incidence_that_reaches_everybody_is_one_without_limits():
    """The parts add up to 1 less a rounding here; a limit of that would be beyond all numbers."""
    time = [0, 0, 0, 1, 1, 1, 1, 1, 2, 2, 3]
    cause = [0, 0, 1, 0, 1, 1, 1, 1, 1, 1, 1]
    found = cumulative_incidence(time=time, cause=cause, of_cause=1, at=[3])
    assert (found.incidence[0], found.lower[0], found.upper[0]) == (1.0, None, None)


@given(observed)
def test_survival_never_rises_and_its_band_holds_it(data):
    time, cause = data
    found = kaplan_meier(time=time, event=[int(c > 0) for c in cause], at=sorted(set(time)))
    values = [v for v in found.survival if v is not None]
    assert values == sorted(values, reverse=True)
    for value, low, high in zip(found.survival, found.lower, found.upper, strict=True):
        if low is not None:
            assert 0 <= low <= value <= high <= 1


def test_everybody_observed_gives_plain_shares():
    found = kaplan_meier(time=[1, 2, 3, 4], event=[1, 1, 1, 1], at=[0, 1, 2.5, 9])
    assert found.survival == (1.0, 0.75, 0.5, 0.0)
    assert found.at_risk == (4, 4, 2, 0)


def test_deaths_counted_as_ends_of_observation_would_overstate_fractures():
    time, cause = [1, 2, 3, 4, 5, 6], [2, 1, 2, 1, 2, 1]
    right = cumulative_incidence(time=time, cause=cause, of_cause=1, at=[6]).incidence[0]
    naive = kaplan_meier(time=time, event=[int(c == 1) for c in cause], at=[6]).survival[0]
    assert right == pytest.approx(0.5)
    assert 1 - naive > right + 0.3


def test_two_groups_alike_do_not_differ_and_groups_may_change_places():
    same = logrank(time_1=MAINTAINED, event_1=EVENTS, time_2=MAINTAINED, event_2=EVENTS)
    assert same.chi2 == pytest.approx(0)
    one = logrank(time_1=MAINTAINED, event_1=EVENTS, time_2=OTHERS, event_2=[1] * 21)
    other = logrank(time_1=OTHERS, event_1=[1] * 21, time_2=MAINTAINED, event_2=EVENTS)
    assert one.chi2 == pytest.approx(other.chi2)
    assert sum(one.observed) == pytest.approx(sum(one.expected))


def test_no_event_gives_no_test():
    assert logrank(time_1=[1, 2], event_1=[0, 0], time_2=[3], event_2=[0]).p is None


def test_follow_up_is_as_long_as_it_was_when_nobody_had_the_event():
    assert median_follow_up(time=[5, 7, 9], event=[0, 0, 0]) == 7
    assert median_follow_up(time=[5, 7, 9], event=[1, 1, 1]) is None


def test_the_error_of_the_incidence_agrees_with_repeated_samples():
    # 400 invented cohorts of 60: the spread of the estimates against the mean printed error.
    import random

    rng = random.Random(11)
    estimates, errors = [], []
    for _ in range(400):
        time, cause = [], []
        for _ in range(60):
            fracture, death, end = (rng.expovariate(r) for r in (0.05, 0.08, 0.04))
            first = min(fracture, death, end)
            time.append(first)
            cause.append(1 if first == fracture else 2 if first == death else 0)
        found = cumulative_incidence(time=time, cause=cause, of_cause=1, at=[8])
        if found.incidence[0] is not None:
            estimates.append(found.incidence[0])
            errors.append(found.standard_error[0])
    mean = sum(estimates) / len(estimates)
    spread = math.sqrt(sum((e - mean) ** 2 for e in estimates) / (len(estimates) - 1))
    assert sum(errors) / len(errors) == pytest.approx(spread, rel=0.12)
