"""Intervals for proportions. Counts are whole numbers, results fractions from 0 to 1.

Nothing here accepts a missing value: the caller leaves out what is not
recorded, says how many that were, and prints no interval for an empty group.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from register.domain.calculations import calculation
from reports.stats.checks import check_confidence, check_counts


@dataclass(frozen=True, slots=True)
class Interval:
    """Confidence limits as fractions (or differences of fractions, from -1 to 1)."""

    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class PairedDifference:
    """A difference of two proportions of the same patients, with its limits."""

    difference: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class ClusteredProportion:
    """A proportion of units that come in clusters, such as vertebral levels within patients."""

    proportion: float
    standard_error: float
    design_effect: float
    lower: float
    upper: float


@calculation("wilson_interval")
def wilson_interval(*, events: int, total: int, confidence: float = 0.95) -> Interval:
    """Score interval of one proportion, without continuity correction.

    Newcombe RG. Stat Med 1998;17:857-872, method 3. Raises ValueError for
    impossible counts, also for an empty group, which has no proportion.
    """
    check_counts(events, total)
    check_confidence(confidence)
    limits = stats.binomtest(events, total).proportion_ci(confidence, method="wilson")
    return Interval(_clip(float(limits.low), 0.0), _clip(float(limits.high), 0.0))


@calculation("clopper_pearson_interval")
def clopper_pearson_interval(*, events: int, total: int, confidence: float = 0.95) -> Interval:
    """Exact tail-area interval of one proportion: never too narrow, usually too wide.

    Clopper, Pearson. Biometrika 1934;26:404-413. For upper limits of harm.
    """
    check_counts(events, total)
    check_confidence(confidence)
    limits = stats.binomtest(events, total).proportion_ci(confidence, method="exact")
    return Interval(float(limits.low), float(limits.high))


@calculation("newcombe_difference")
def newcombe_difference(
    *, events_1: int, total_1: int, events_2: int, total_2: int, confidence: float = 0.95
) -> Interval:
    """Interval of the difference of two independent proportions, first minus second.

    Newcombe RG. Stat Med 1998;17:873-890, method 10: the distances of the two
    Wilson limits, squared and added. No scipy function offers it.
    """
    one = wilson_interval(events=events_1, total=total_1, confidence=confidence)
    two = wilson_interval(events=events_2, total=total_2, confidence=confidence)
    first, second = events_1 / total_1, events_2 / total_2
    down = math.hypot(first - one.lower, two.upper - second)
    up = math.hypot(one.upper - first, second - two.lower)
    return Interval(_clip(first - second - down, -1.0), _clip(first - second + up, -1.0))


@calculation("newcombe_paired_difference")
def newcombe_paired_difference(
    *, both: int, first_only: int, second_only: int, neither: int, confidence: float = 0.95
) -> PairedDifference:
    """Difference of two proportions of the same patients, first minus second.

    Newcombe RG. Stat Med 1998;17:2635-2650, method 10: Wilson limits squared and added,
    less what the two have in common.
    """
    total = both + first_only + second_only + neither
    for part in (both, first_only, second_only, neither):
        check_counts(part, total)
    one, two = both + first_only, both + second_only
    first = wilson_interval(events=one, total=total, confidence=confidence)
    second = wilson_interval(events=two, total=total, confidence=confidence)
    p_1, p_2 = one / total, two / total
    phi = _shared(both, first_only, second_only, neither)
    down = _distance(p_1 - first.lower, second.upper - p_2, phi)
    up = _distance(first.upper - p_1, p_2 - second.lower, phi)
    difference = p_1 - p_2
    return PairedDifference(
        difference, _clip(difference - down, -1.0), _clip(difference + up, -1.0)
    )


@calculation("zero_event_upper_limit", answer="upper")
def zero_event_upper_limit(*, total: int, confidence: float = 0.95) -> float:
    """Highest true rate that still gives no event in `total` with probability 1 - confidence.

    The one-sided exact limit 1 - (1 - confidence)^(1/total), of which 3/total
    is the known approximation: Hanley, Lippman-Hand. JAMA 1983;249:1743-1745.
    """
    check_counts(0, total)
    check_confidence(confidence)
    return float(1 - (1 - confidence) ** (1 / total))


@calculation("clustered_proportion")
def clustered_proportion(
    *, events: Sequence[int], total: Sequence[int], confidence: float = 0.95
) -> ClusteredProportion:
    """Proportion of units within clusters: `events[i]` of `total[i]` units of cluster i.

    The ratio estimator's variance gives a design effect, never taken below 1;
    the Wilson interval is then taken on events and units divided by it: Rao,
    Scott. Biometrics 1992;48:577-585. With one cluster, or when all units agree,
    the variance cannot show any clustering and the design effect is 1.
    """
    if not events or len(events) != len(total):
        raise ValueError(
            f"Each cluster needs its events and its total; got {len(events)} and {len(total)}."
        )
    for some, all_of_it in zip(events, total, strict=True):
        check_counts(some, all_of_it)
    check_confidence(confidence)
    share = sum(events) / sum(total)
    variance = _ratio_variance(events, total, share)
    binomial = share * (1 - share) / sum(total)
    effect = max(1.0, variance / binomial) if binomial else 1.0
    lower, upper = _wilson(share, sum(total) / effect, confidence)
    return ClusteredProportion(share, math.sqrt(variance), effect, lower, upper)


def _shared(both: int, first_only: int, second_only: int, neither: int) -> float:
    """Correlation of the pair, with the correction that keeps it from being overstated."""
    total = both + first_only + second_only + neither
    margins = (
        (both + first_only) * (second_only + neither) * (both + second_only)
        * (first_only + neither)
    )  # fmt: skip
    if not margins:
        return 0.0
    agreement = float(both * neither - first_only * second_only)
    if agreement > 0:
        agreement = max(agreement - total / 2, 0.0)
    return agreement / math.sqrt(margins)


def _distance(one: float, other: float, phi: float) -> float:
    return math.sqrt(max(0.0, one**2 - 2 * phi * one * other + other**2))


def _ratio_variance(events: Sequence[int], total: Sequence[int], share: float) -> float:
    """Variance of sum(events)/sum(total) between clusters; 0 when there is only one."""
    clusters = len(events)
    if clusters < 2:
        return 0.0
    residuals = np.asarray(events) - share * np.asarray(total)
    return float(clusters / (clusters - 1) * np.sum(residuals**2) / sum(total) ** 2)


def _wilson(share: float, units: float, confidence: float) -> tuple[float, float]:
    """Wilson limits for an effective, not necessarily whole, number of units."""
    z = float(stats.norm.ppf(0.5 + confidence / 2))
    centre = (share + z**2 / (2 * units)) / (1 + z**2 / units)
    half = z * math.sqrt(share * (1 - share) / units + (z / (2 * units)) ** 2) / (1 + z**2 / units)
    return _clip(centre - half, 0.0), _clip(centre + half, 0.0)


def _clip(limit: float, lowest: float) -> float:
    """Hold a limit inside what is possible, against rounding in the last binary digit."""
    return min(1.0, max(lowest, limit))
