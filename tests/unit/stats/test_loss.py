"""Loss to follow-up: bounds that hold for every cohort, and refusals in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.stats.loss import completeness_index, loss_bounds, tipping_point


@st.composite
def cohorts(draw):
    treated = draw(st.integers(1, 200))
    followed = draw(st.integers(0, treated))
    return {
        "treated": treated,
        "followed": followed,
        "responders": draw(st.integers(0, followed)),
    }


@given(cohorts())
def test_the_rate_of_the_seen_lies_between_worst_and_best(cohort):
    found = loss_bounds(**cohort)
    assert 0 <= found.lower <= found.worst <= found.best <= found.upper <= 1
    if found.complete is not None:
        assert found.worst <= found.complete + 1e-12
        assert found.complete <= found.best + 1e-12


def test_nobody_seen_is_not_nought_per_cent():
    found = loss_bounds(treated=10, followed=0, responders=0)
    assert (found.complete, found.worst, found.best) == (None, 0.0, 1.0)


@given(cohorts(), st.integers(0, 100))
def test_the_tipping_point_is_the_first_count_that_reaches_the_standard(cohort, percent):
    needed = tipping_point(**cohort, standard=percent / 100)
    unseen = cohort["treated"] - cohort["followed"]
    reach = [
        k
        for k in range(unseen + 1)
        if (cohort["responders"] + k) * 100 >= percent * cohort["treated"]
    ]
    assert needed == (reach[0] if reach else None)


@given(st.lists(st.tuples(st.integers(0, 24), st.integers(1, 24)), min_size=1))
def test_completeness_is_a_fraction(pairs):
    rows = [(min(a, b), b, "") for a, b in pairs]
    assert 0 <= completeness_index(rows=rows) <= 1


@pytest.mark.parametrize("rows", [[(13, 12, "lost")], [(-1, 12, "lost")]])
def test_observed_time_beyond_the_potential_time_is_refused(rows):
    with pytest.raises(ValueError, match="potential time; got"):
        completeness_index(rows=rows)


def test_no_follow_up_time_is_refused():
    with pytest.raises(ValueError, match="no follow-up time"):
        completeness_index(rows=[])


@pytest.mark.parametrize(("treated", "followed", "responders"), [(3, 4, 1), (5, 4, 5), (0, 0, 0)])
def test_counts_that_do_not_nest_are_refused(treated, followed, responders):
    with pytest.raises(ValueError, match="some of those treated; got"):
        loss_bounds(treated=treated, followed=followed, responders=responders)


def test_a_standard_is_a_fraction():
    with pytest.raises(ValueError, match="fraction from 0 to 1; got 60"):
        tipping_point(treated=80, followed=60, responders=42, standard=60)
