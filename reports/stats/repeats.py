"""Two readings of each of many things, looked at together: agreement, repeatability, growth."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy import stats

from reports.stats.agreement import (
    Agreement,
    IntraclassCorrelation,
    Repeatability,
    icc_agreement,
    limits_of_agreement,
    repeatability,
)
from reports.stats.checks import check_sample

# One-sided p below which the spread is said to grow: common practice, no source.
GROWS_BELOW: Final = 0.05
# Fewest pairs for which growth is looked at at all: common practice, no source.
FEWEST_FOR_GROWTH: Final = 10


@dataclass(frozen=True, slots=True)
class Growth:
    """Rank correlation of the size of a difference with the size of what was read.

    `p` is one-sided: it is small only where larger things differ more.
    """

    tau: float
    p: float

    @property
    def grows(self) -> bool:
        """Whether larger things differ more; then ratios say more than differences."""
        return self.p < GROWS_BELOW


@dataclass(frozen=True, slots=True)
class RatioLimits:
    """Second over first reading: mean ratio and its limits of agreement, each with interval."""

    ratio: float
    lower: float
    upper: float
    ratio_interval: tuple[float, float]
    lower_interval: tuple[float, float]
    upper_interval: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Repeated:
    """Everything that is said of n pairs. Differences are second minus first.

    `growth` is None below FEWEST_FOR_GROWTH or without any spread; `ratio` where the spread
    does not grow or a value is not above 0.
    """

    n: int
    agreement: Agreement
    repeatability: Repeatability
    icc: IntraclassCorrelation
    growth: Growth | None
    ratio: RatioLimits | None


def repeated(first: Sequence[float], second: Sequence[float]) -> Repeated:
    """Compare the readings of pairs. Raises ValueError for fewer than two pairs."""
    growth = spread_growth(first, second)
    grows = growth is not None and growth.grows
    return Repeated(
        n=len(first),
        agreement=limits_of_agreement(first=second, second=first),
        repeatability=repeatability(first=first, second=second),
        icc=icc_agreement(ratings=list(zip(first, second, strict=True))),
        growth=growth,
        ratio=ratio_limits(first, second) if grows else None,
    )


def spread_growth(first: Sequence[float], second: Sequence[float]) -> Growth | None:
    """Kendall's rank correlation of |second − first| with their mean, one-sided upwards.

    A look for a relation of difference and mean, as Bland and Altman advise (Stat Methods
    Med Res 1999;8:135-160, from memory). None with too few pairs, or where all differences
    or all means are alike.
    """
    check_sample(first)
    check_sample(second)
    sizes = [abs(two - one) for one, two in zip(first, second, strict=True)]
    means = [(one + two) / 2 for one, two in zip(first, second, strict=True)]
    if len(first) < FEWEST_FOR_GROWTH:
        return None
    found = stats.kendalltau(means, sizes, alternative="greater")
    if math.isnan(found.statistic):
        return None
    return Growth(float(found.statistic), float(found.pvalue))


def ratio_limits(first: Sequence[float], second: Sequence[float]) -> RatioLimits | None:
    """Limits of agreement of the logarithms, given back as ratios second over first.

    Bland, Altman. Lancet 1986;i:307-310 (from memory). None when a value is not above 0,
    or with fewer than two pairs.
    """
    if len(first) < 2 or min(*first, *second) <= 0:
        return None
    logs = [[math.log(value) for value in values] for values in (second, first)]
    found = limits_of_agreement(first=logs[0], second=logs[1])
    spans = (found.bias_interval, found.lower_interval, found.upper_interval)
    if found.lower is None or found.upper is None:
        return None
    one, low, high = ((math.exp(span[0]), math.exp(span[1])) for span in spans if span is not None)
    ends = (math.exp(found.bias), math.exp(found.lower), math.exp(found.upper))
    return RatioLimits(*ends, one, low, high)
