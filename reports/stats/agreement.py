"""How well two readings of the same thing agree, in the unit of the readings."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy import stats

from register.domain.calculations import calculation
from reports.stats.checks import check_confidence, check_sample

WIDTH: Final = 1.96  # Bland, Altman 1986 print 2; 1.96 is used here and said so


@dataclass(frozen=True, slots=True)
class Agreement:
    """Mean difference (first minus second), its spread, and the limits of agreement.

    Each of the three has its own t interval; None with fewer than two pairs.
    """

    bias: float
    sd: float | None
    lower: float | None
    upper: float | None
    bias_interval: tuple[float, float] | None
    lower_interval: tuple[float, float] | None
    upper_interval: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Within-subject standard deviation with interval, and the repeatability coefficient.

    Two readings of one thing differ by less than `coefficient` in 95 of 100 cases.
    """

    within_sd: float
    coefficient: float
    within_sd_lower: float | None
    within_sd_upper: float | None


@dataclass(frozen=True, slots=True)
class IntraclassCorrelation:
    """Absolute agreement of single readings, two-way random: form (2,1) of Shrout and Fleiss.

    None where the readings do not differ at all, or the interval is not defined.
    """

    icc: float | None
    lower: float | None
    upper: float | None


@calculation("limits_of_agreement")
def limits_of_agreement(
    *, first: Sequence[float], second: Sequence[float], confidence: float = 0.95
) -> Agreement:
    """Bland, Altman. Lancet 1986;i:307-310, with 1.96 standard deviations and unrounded steps.

    The limits' standard error is sqrt(1/n + 1.96²/(2(n-1))) times the spread: Bland,
    Altman. Stat Methods Med Res 1999;8:135-160 (quoted from memory).
    """
    differences = _pairs(first, second)
    check_confidence(confidence)
    n, bias = len(differences), float(np.mean(differences))
    if n < 2:
        return Agreement(bias, None, None, None, None, None, None)
    sd = float(np.std(differences, ddof=1))
    t = float(stats.t.ppf(0.5 + confidence / 2, n - 1))
    of_bias = t * sd / math.sqrt(n)
    of_limit = t * sd * math.sqrt(1 / n + WIDTH**2 / (2 * (n - 1)))
    lower, upper = bias - WIDTH * sd, bias + WIDTH * sd
    return Agreement(
        bias, sd, lower, upper, *(
            (middle - half, middle + half)
            for middle, half in ((bias, of_bias), (lower, of_limit), (upper, of_limit))
        ),
    )  # fmt: skip


@calculation("repeatability")
def repeatability(
    *, first: Sequence[float], second: Sequence[float], confidence: float = 0.95
) -> Repeatability:
    """Within-subject standard deviation sqrt(sum of d²/2n) and 1.96·sqrt(2) times it.

    Bland, Altman. Stat Methods Med Res 1999;8:135-160 (quoted from memory). The interval
    is that of a variance with n degrees of freedom; None for a single pair.
    """
    differences = _pairs(first, second)
    check_confidence(confidence)
    n = len(differences)
    total = float(np.sum(np.square(differences)))
    within = math.sqrt(total / (2 * n))
    lower = upper = None
    if n > 1:
        high, low = (float(stats.chi2.ppf(q, n)) for q in _tails(confidence))
        lower, upper = math.sqrt(total / 2 / high), math.sqrt(total / 2 / low)
    return Repeatability(within, WIDTH * math.sqrt(2) * within, lower, upper)


@calculation("icc_agreement")
def icc_agreement(
    *, ratings: Sequence[Sequence[float]], confidence: float = 0.95
) -> IntraclassCorrelation:
    """Intraclass correlation of a full table: one row for each subject, one column a reader.

    Shrout, Fleiss. Psychol Bull 1979;86:420-428, form (2,1); interval of McGraw, Wong.
    Psychol Methods 1996;1:30-46 (quoted from memory). Needs two subjects and two readers.
    """
    check_confidence(confidence)
    n, k, rows, columns, rest = _mean_squares(ratings)
    spread = rows + (k - 1) * rest + k * (columns - rest) / n
    if math.isclose(spread, 0.0, abs_tol=1e-12):
        return IntraclassCorrelation(None, None, None)
    icc = (rows - rest) / spread
    if math.isclose(rest, 0.0, abs_tol=1e-12):
        return IntraclassCorrelation(icc, None, None)
    ratio, share = columns / rest, n * (1 + (k - 1) * icc) - k * icc
    freedom = (
        (k - 1) * (n - 1) * (k * icc * ratio + share) ** 2
        / ((n - 1) * (k * icc * ratio) ** 2 + share**2)
    )  # fmt: skip
    above, _ = _tails(confidence)
    wide, narrow = stats.f.ppf(above, n - 1, freedom), stats.f.ppf(above, freedom, n - 1)
    others = k * columns + (k * n - k - n) * rest
    lower = n * (rows - wide * rest) / (wide * others + n * rows)
    upper = n * (narrow * rows - rest) / (others + n * narrow * rows)
    return IntraclassCorrelation(icc, float(lower), float(upper))


def _mean_squares(ratings: Sequence[Sequence[float]]) -> tuple[int, int, float, float, float]:
    """Return subjects, readers, and the mean squares of subjects, readers and the rest."""
    widths = {len(row) for row in ratings}
    if len(ratings) < 2 or len(widths) != 1 or widths < {2} or min(widths) < 2:
        raise ValueError(
            "Agreement needs at least two subjects, each read by the same two or more readers."
        )
    for row in ratings:
        check_sample(row)
    table = np.asarray(ratings, dtype=float)
    n, k = table.shape
    grand = table.mean()
    rows = k * float(np.sum((table.mean(axis=1) - grand) ** 2)) / (n - 1)
    columns = n * float(np.sum((table.mean(axis=0) - grand) ** 2)) / (k - 1)
    whole = float(np.sum((table - grand) ** 2))
    rest = (whole - rows * (n - 1) - columns * (k - 1)) / ((n - 1) * (k - 1))
    return n, k, rows, columns, rest


def _pairs(first: Sequence[float], second: Sequence[float]) -> list[float]:
    if len(first) != len(second):
        raise ValueError(f"Each reading needs its partner; got {len(first)} and {len(second)}.")
    check_sample(first)
    check_sample(second)
    return [one - other for one, other in zip(first, second, strict=True)]


def _tails(confidence: float) -> tuple[float, float]:
    return 0.5 + confidence / 2, 0.5 - confidence / 2
