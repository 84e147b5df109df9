"""Run charts: points around their median, judged by two rules that need no distribution."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from scipy import stats

from register.domain.calculations import calculation
from reports.stats.checks import check_sample


@dataclass(frozen=True, slots=True)
class RunLimits:
    """For each number of useful points: the longest run and the fewest crossings of chance."""

    longest_run: tuple[int, ...]
    crossings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class RunChart:
    """What a run chart shows. `useful` points are those off the median.

    `signal` is None with fewer than ten useful points: too few to tell.
    """

    median: float
    useful: int
    longest_run: int
    crossings: int
    signal: bool | None


@calculation("run_chart_limits")
def run_chart_limits(*, points: Sequence[int]) -> RunLimits:
    """Longest run and fewest crossings that chance still explains, for numbers of useful points.

    Anhoej, Olesen. PLoS ONE 2014;9:e113825: a run longer than round(log2 n) + 3, or fewer
    crossings than the 5 % quantile of a binomial (n - 1, 1/2), is a signal.
    """
    if any(not isinstance(n, int) or isinstance(n, bool) or n < 2 for n in points):
        raise ValueError("A run chart has at least two useful points, counted in whole numbers.")
    return RunLimits(
        tuple(round(math.log2(n)) + 3 for n in points),
        tuple(int(stats.binom.ppf(0.05, n - 1, 0.5)) for n in points),
    )


@calculation("run_chart")
def run_chart(*, values: Sequence[float], baseline: int | None = None) -> RunChart:
    """Judge values in the order of time; the median comes from the first `baseline` (or all).

    The rule of trends is left out: its authors found it without use. Ten useful points
    are asked for (common practice).
    """
    check_sample(values)
    if baseline is not None and not 1 <= baseline <= len(values):
        raise ValueError(f"The baseline is 1 to {len(values)} points; got {baseline}.")
    median = float(np.median(values[:baseline]))
    sides = [value > median for value in values if value != median]
    runs = [len(list(run)) for _, run in groupby(sides)]
    longest, crossings = max(runs, default=0), max(len(runs) - 1, 0)
    signal = None
    if len(sides) >= 10:
        limits = run_chart_limits(points=[len(sides)])
        signal = longest > limits.longest_run[0] or crossings < limits.crossings[0]
    return RunChart(median, len(sides), longest, crossings, signal)
