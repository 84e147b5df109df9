"""Means and medians with their intervals, in the unit of the values given."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from register.domain.calculations import calculation
from reports.stats.checks import check_confidence, check_sample


@dataclass(frozen=True, slots=True)
class MeanInterval:
    """A mean and its limits. Limits are None when fewer than two values leave no spread to see."""

    mean: float
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class PairedTest:
    """Mean within-patient difference with its t test. None where fewer than two differences."""

    mean: float
    standard_error: float | None
    t: float | None
    p: float | None


@dataclass(frozen=True, slots=True)
class MedianInterval:
    """A median and its limits. Limits are None when the sample is too small for any."""

    median: float
    lower: float | None
    upper: float | None


@calculation("mean_t_interval")
def mean_t_interval(*, values: Sequence[float], confidence: float = 0.95) -> MeanInterval:
    """Mean and Student t interval of a sample.

    Student. Biometrika 1908;6:1-25. Raises ValueError for an empty sample or
    values that are not finite numbers.
    """
    check_sample(values)
    check_confidence(confidence)
    mean = float(np.mean(values))
    if len(values) < 2:
        return MeanInterval(mean, None, None)
    half = float(stats.t.ppf(0.5 + confidence / 2, len(values) - 1) * stats.sem(values))
    return MeanInterval(mean, mean - half, mean + half)


@calculation("paired_t")
def paired_t(*, differences: Sequence[float]) -> PairedTest:
    """Mean of within-patient differences, its standard error, t and the two-sided p.

    t and p are None when all differences are equal: without spread there is no test.
    """
    check_sample(differences)
    mean = float(np.mean(differences))
    if len(differences) < 2:
        return PairedTest(mean, None, None, None)
    error = float(stats.sem(differences))
    if math.isclose(error, 0.0, abs_tol=1e-12):
        return PairedTest(mean, 0.0, None, None)
    result = stats.ttest_1samp(differences, 0.0)
    return PairedTest(mean, error, float(result.statistic), float(result.pvalue))


@calculation("median_interval")
def median_interval(*, values: Sequence[float], confidence: float = 0.95) -> MedianInterval:
    """Median with its distribution-free interval from order statistics.

    Conservative, because ranks are whole: Snedecor, Cochran, Statistical
    Methods. At 95 % no interval exists for fewer than six values.
    """
    check_sample(values)
    check_confidence(confidence)
    median = float(np.median(values))
    if len(values) < 2:
        return MedianInterval(median, None, None)
    limits = stats.quantile_test(values, p=0.5).confidence_interval(confidence)
    return MedianInterval(median, _number(limits.low), _number(limits.high))


def _number(limit: float) -> float | None:
    return None if math.isnan(limit) else float(limit)
