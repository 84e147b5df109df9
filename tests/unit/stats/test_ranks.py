"""Signed ranks: exact even with ties, and an interval that is the test turned round."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from reports.stats.ranks import hodges_lehmann, wilcoxon_signed_rank

scores = st.lists(st.integers(-10, 10), min_size=1, max_size=9)


@given(scores)
def test_p_is_the_share_of_sign_patterns_as_far_out(changes):
    left = [c for c in changes if c]
    found = wilcoxon_signed_rank(differences=changes)
    if not left:
        assert found.p is None
        return
    ranks = stats.rankdata([abs(c) for c in left])
    middle = sum(ranks) / 2
    seen = abs(sum(r for r, c in zip(ranks, left, strict=True) if c > 0) - middle)
    patterns = list(product((0, 1), repeat=len(left)))
    far = sum(
        abs(sum(r for r, s in zip(ranks, signs, strict=True) if s) - middle) >= seen - 1e-9
        for signs in patterns
    )
    assert found.p == pytest.approx(far / len(patterns), abs=1e-12)


@given(scores)
def test_turning_every_change_round_turns_the_sum_and_keeps_p(changes):
    one = wilcoxon_signed_rank(differences=changes)
    other = wilcoxon_signed_rank(differences=[-c for c in changes])
    n = len([c for c in changes if c])
    assert one.w_plus + other.w_plus == pytest.approx(n * (n + 1) / 2)
    assert one.p == other.p


def test_untied_changes_agree_with_the_library():
    changes = [1.3, -0.4, 2.2, 5.1, -3.3, 0.9, 7.7, 4.2]
    theirs = stats.wilcoxon(changes, method="exact")
    assert wilcoxon_signed_rank(differences=changes).p == pytest.approx(theirs.pvalue, abs=1e-12)


def test_binary_noise_breaks_no_tie():
    changes = [0.3, 0.1 + 0.2, -0.3, 0.9]
    assert wilcoxon_signed_rank(differences=changes).w_plus == 2 + 2 + 4


@given(st.lists(st.floats(-100, 100), min_size=6, max_size=30))
def test_the_estimate_lies_inside_its_interval(values):
    found = hodges_lehmann(differences=values)
    assert found.lower is not None
    assert found.upper is not None
    assert found.lower <= found.estimate <= found.upper
    assert found.achieved_confidence >= 0.95


def test_a_value_outside_the_interval_is_one_that_the_test_refuses():
    values = [49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48]
    found = hodges_lehmann(differences=values)
    for place, refused in ((found.lower - 0.01, True), (found.lower + 0.01, False)):
        p = wilcoxon_signed_rank(differences=[v - place for v in values]).p
        assert (p < 0.05) == refused
