"""Repeated visits: two published fits, and what must not matter."""

import numpy as np
import pytest

from reports.stats.repeated import COMPOUND_SYMMETRY, UNSTRUCTURED, fit_visits

# Distances in mm of 11 girls and 16 boys at 8, 10, 12 and 14 years: Potthoff, Roy.
# Biometrika 1964;51:313-326.
GIRLS = (
    "21 20 21.5 23; 21 21.5 24 25.5; 20.5 24 24.5 26; 23.5 24.5 25 26.5; 21.5 23 22.5 23.5; "
    "20 21 21 22.5; 21.5 22.5 23 25; 23 23 23.5 24; 20 21 22 21.5; 16.5 19 19 19.5; 24.5 25 28 28"
)
BOYS = (
    "26 25 29 31; 21.5 22.5 23 26.5; 23 22.5 24 27.5; 25.5 27.5 26.5 27; 20 23.5 22.5 26; "
    "24.5 25.5 27 28.5; 22 22 24.5 26.5; 24 21.5 24.5 25.5; 23 20.5 31 26; 27.5 28 31 31.5; "
    "23 23 23.5 25; 21.5 23.5 24 28; 17 24.5 26 29.5; 22.5 25.5 25.5 26; 23 24.5 26 30; "
    "22 21.5 23.5 25"
)
AGES = (8, 10, 12, 14)


def table(text):
    return [[float(cell) for cell in row.split()] for row in text.split(";")]


SCORES = table(GIRLS) + table(BOYS)
DESIGN = [[[1, int(i < 11), age, int(i < 11) * age] for age in AGES] for i in range(27)]


def test_the_unstructured_fit_is_the_published_one():
    # SAS/STAT repeated measures example on these data, quoted from memory.
    found = fit_visits(scores=SCORES, design=DESIGN, restricted=False)
    assert found.structure == UNSTRUCTURED
    assert found.coefficients == pytest.approx([15.8423, 1.5831, 0.8268, -0.3504], abs=6e-5)
    assert found.standard_errors == pytest.approx([0.9356, 1.4658, 0.0791, 0.1239], abs=6e-5)
    assert found.deviance == pytest.approx(419.477, abs=6e-4)


def test_compound_symmetry_has_its_published_likelihood():
    # Jennrich, Schluchter. Biometrics 1986;42:805-820, quoted from memory.
    found = fit_visits(scores=SCORES, design=DESIGN, restricted=False, structure=COMPOUND_SYMMETRY)
    assert found.deviance == pytest.approx(428.639, abs=6e-4)


def test_with_every_visit_seen_the_means_are_the_plain_means():
    design = [[list(row) for row in np.eye(4)] for _ in SCORES]
    found = fit_visits(scores=SCORES, design=design)
    assert found.coefficients == pytest.approx(np.mean(SCORES, axis=0), abs=1e-4)
    assert found.covariance == pytest.approx(np.cov(np.array(SCORES).T), abs=2e-2)


def test_the_order_of_patients_and_those_never_seen_do_not_matter():
    scores = [
        [s if (i + v) % 5 else None for v, s in enumerate(row)] for i, row in enumerate(SCORES)
    ]
    design = [[list(row) for row in np.eye(4)] for _ in scores]
    one = fit_visits(scores=scores, design=design)
    other = fit_visits(scores=[[None] * 4, *scores[::-1]], design=[design[0], *design])
    assert one.coefficients == pytest.approx(other.coefficients, abs=1e-4)
    assert one.observations < 4 * 27


def test_visits_missed_for_what_was_seen_before_do_not_mislead():
    # True mean 4 at both visits; whoever began below 4 stays away from the second.
    rng = np.random.default_rng(3)
    first = rng.normal(4, 2, 400)
    second = 4 + 0.8 * (first - 4) + rng.normal(0, 1, 400)
    scores = [[a, b if a > 4 else None] for a, b in zip(first, second, strict=True)]
    design = [[[1, 0], [0, 1]] for _ in scores]
    found = fit_visits(scores=scores, design=design)
    lower, upper = found.limits()
    assert np.mean([b for _, b in scores if b is not None]) > 5
    assert lower[1] < 4 < upper[1]


def test_few_patients_get_wider_limits():
    few = fit_visits(scores=SCORES[:12], design=[[[1.0]] * 4 for _ in range(12)],
                     structure=COMPOUND_SYMMETRY)  # fmt: skip
    lower, upper = few.limits()
    assert float((upper - lower)[0]) > 2 * 1.96 * float(few.standard_errors[0])


@pytest.mark.parametrize(
    ("scores", "design"),
    [([[None, None]], [[[1.0], [1.0]]]), ([[3.0]], [[[1.0]]]), ([[1.0]], [])],
)
def test_nothing_to_fit_is_refused_in_words(scores, design):
    with pytest.raises(ValueError, match=r"fit|scores|needs"):
        fit_visits(scores=scores, design=design)
