"""Funnel plots: how far units may lie from a target by chance. Never a ranking."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from register.domain.calculations import calculation
from reports.stats.checks import check_counts


@dataclass(frozen=True, slots=True)
class FunnelLimits:
    """Limits for each size of unit, as fractions, for 95 % and for 99.8 % of units on target."""

    lower_95: tuple[float, ...]
    upper_95: tuple[float, ...]
    lower_998: tuple[float, ...]
    upper_998: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Overdispersion:
    """How much more units vary than chance explains.

    `phi` is the mean squared z after winsorising (1 for chance alone), `tau2` the
    variance between units on the scale arcsin(sqrt(p)); 0 where chance explains all.
    """

    target: float
    phi: float
    tau2: float


@calculation("funnel_limits")
def funnel_limits(*, target: float, total: Sequence[int]) -> FunnelLimits:
    """Exact binomial limits with interpolation between whole counts, held between 0 and 1.

    Spiegelhalter. Stat Med 2005;24:1185-1202, appendix A.1.1.
    """
    if not 0 < target < 1:
        raise ValueError(f"The target is a fraction between 0 and 1; got {target}.")
    for size in total:
        check_counts(0, size)
    return FunnelLimits(
        *(
            tuple(_limit(tail, size, target) for size in total)
            for tail in (0.025, 0.975, 0.001, 0.999)
        )
    )


@calculation("funnel_overdispersion")
def funnel_overdispersion(
    *,
    events: Sequence[int],
    total: Sequence[int],
    winsorise: float = 0.1,
    target: float | None = None,
) -> Overdispersion:
    """Spread of units about the target (pooled when None) on the arcsine scale.

    Spiegelhalter. Qual Saf Health Care 2005;14:347-351. z is winsorised at the quantiles
    `winsorise` and 1 - `winsorise`, interpolated linearly. Useful from some ten units.
    """
    if len(events) != len(total) or len(events) < 2 or not 0 <= winsorise < 0.5:
        raise ValueError(
            "Give events and total of at least two units, and winsorise less than one half."
        )
    for some, all_of_it in zip(events, total, strict=True):
        check_counts(some, all_of_it)
    middle = sum(events) / sum(total) if target is None else target
    sizes = np.asarray(total, dtype=float)
    z = (np.arcsin(np.sqrt(np.asarray(events) / sizes)) - math.asin(math.sqrt(middle))) * (
        2 * np.sqrt(sizes)
    )
    held = np.clip(z, *np.quantile(z, [winsorise, 1 - winsorise]))
    phi, units, weights = float(np.mean(held**2)), len(events), 4 * sizes
    surplus = units * phi - (units - 1)
    spread = float(weights.sum() - (weights**2).sum() / weights.sum())
    return Overdispersion(middle, phi, max(0.0, surplus / spread))


def widened_limits(
    *, target: float, total: Sequence[int], tau2: float, tail: float
) -> tuple[float, ...]:
    """Limits at one tail (0.975 for the upper of 95 %) with the variance between units added."""
    z, middle = float(stats.norm.ppf(tail)), math.asin(math.sqrt(target))
    angles = (middle + z * math.sqrt(1 / (4 * size) + tau2) for size in total)
    return tuple(math.sin(min(max(angle, 0.0), math.pi / 2)) ** 2 for angle in angles)


def _limit(tail: float, size: int, target: float) -> float:
    whole = int(stats.binom.ppf(tail, size, target))
    reached = float(stats.binom.cdf(whole, size, target))
    before = float(stats.binom.cdf(whole - 1, size, target))
    return min(1.0, max(0.0, (whole - (reached - tail) / (reached - before)) / size))
