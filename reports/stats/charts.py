"""Control charts: is a change more than chance?

Points come in the order of time. Limits come from the first `baseline` points (all
when None) and stay frozen for those after, so that a bad quarter never widens its own
limits. `outside` holds the places (from 0) of points beyond the limits.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from register.domain.calculations import calculation
from reports.stats.checks import check_counts, check_sample

# Mean moving range of two normal values in units of their standard deviation (d2, n = 2).
D2: Final = 1.128
# Time between rare events becomes nearly normal by this power: Nelson 1994 (from memory).
NELSON_POWER: Final = 1 / 3.6
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Individuals:
    """Centre and three-sigma limits in the unit of the values."""

    centre: float
    lower: float
    upper: float
    outside: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class ProportionChart:
    """Centre and limits as fractions; limits differ from point to point with its total."""

    centre: float
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    lower_first: float
    upper_first: float
    outside: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LaneyChart:
    """A proportion chart widened for overdispersion; `outside` is the number of points."""

    centre: float
    sigma_z: float
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    outside: int


@dataclass(frozen=True, slots=True)
class GapChart:
    """Cases between rare events: their mean, centre line and upper limit; no lower limit."""

    mean: float
    centre: float
    upper: float
    outside: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Ewma:
    """The weighted average after each point, its limits, and where it lies beyond them."""

    ewma: tuple[float, ...]
    lower: tuple[float, ...]
    upper: tuple[float, ...]
    outside: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Cusum:
    """Sums of what lies above and below the target beyond the slack; `outside` their signals."""

    upper: tuple[float, ...]
    lower: tuple[float, ...]
    outside: tuple[int, ...]


@calculation("individuals_chart")
def individuals_chart(*, values: Sequence[float], baseline: int | None = None) -> Individuals:
    """Individual values with limits from the mean moving range.

    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2.
    """
    check_sample(values)
    base = _base(values, baseline)
    if base.size < 2:
        raise ValueError("Limits need at least two values to show how they vary.")
    centre = float(base.mean())
    sigma = float(np.abs(np.diff(base)).mean()) / D2
    lower, upper = centre - 3 * sigma, centre + 3 * sigma
    return Individuals(centre, lower, upper, _outside(values, lower, upper))


@calculation("p_chart")
def p_chart(
    *, events: Sequence[int], total: Sequence[int], baseline: int | None = None
) -> ProportionChart:
    """Proportions with binomial three-sigma limits, held between 0 and 1.

    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.3.2.
    """
    shares, sizes, centre = _shares(events, total, baseline)
    sigma = np.sqrt(centre * (1 - centre) / sizes)
    lower, upper = _band(centre, 3 * sigma)
    return ProportionChart(centre, lower, upper, lower[0], upper[0], _outside(shares, lower, upper))


@calculation("laney_chart")
def laney_chart(
    *, events: Sequence[int], total: Sequence[int], baseline: int | None = None
) -> LaneyChart:
    """Proportions of very large groups, with the spread between points added to the limits.

    Laney. Quality Engineering 2002;14:531-537. Limits are never narrower than binomial ones.
    """
    shares, sizes, centre = _shares(events, total, baseline)
    sigma = np.sqrt(centre * (1 - centre) / sizes)
    if not centre * (1 - centre) > 0 or _base(shares, baseline).size < 2:
        raise ValueError("Overdispersion needs two groups or more that are not all alike.")
    z = _base((shares - centre) / sigma, baseline)
    sigma_z = float(np.abs(np.diff(z)).mean()) / D2
    lower, upper = _band(centre, 3 * sigma * max(1.0, sigma_z))
    return LaneyChart(centre, sigma_z, lower, upper, len(_outside(shares, lower, upper)))


@calculation("g_chart")
def g_chart(*, gaps: Sequence[int], baseline: int | None = None) -> GapChart:
    """Number of cases between one rare event and the next; a long gap is good news.

    Benneyan. Health Care Manag Sci 2001;4:305-318: centre 0.693 of the mean, limit
    mean + 3·sqrt(mean·(mean + 1)).
    """
    check_sample(gaps)
    if any(not isinstance(gap, int) or gap < 0 for gap in gaps):
        raise ValueError("A gap is a whole number of cases from 0 upwards.")
    mean = float(_base(gaps, baseline).mean())
    upper = mean + 3 * math.sqrt(mean * (mean + 1))
    return GapChart(mean, 0.693 * mean, upper, _outside(gaps, -math.inf, upper))


@calculation("t_chart")
def t_chart(*, times: Sequence[float], baseline: int | None = None) -> Individuals:
    """Time between rare events, drawn in the unit of the times.

    Each time is raised to the power 1/3.6, charted as an individual value, and the
    limits turned back; a lower limit below 0 becomes 0. Times of zero are refused: two
    events of one day need a time of day, or half a day by agreement.
    """
    check_sample(times)
    if min(times) <= 0:
        raise ValueError("Time between events is above 0; give events of one day half a day.")
    found = individuals_chart(values=[t**NELSON_POWER for t in times], baseline=baseline)
    lower, centre, upper = (
        max(0.0, limit) ** (1 / NELSON_POWER) for limit in (found.lower, found.centre, found.upper)
    )
    return Individuals(centre, lower, upper, _outside(times, lower, upper))


@calculation("ewma_chart")
def ewma_chart(
    *,
    values: Sequence[float],
    weight: float,
    target: float,
    sigma: float,
    width: float = 3,
    limits: str = "exact",
) -> Ewma:
    """Exponentially weighted moving average, starting at the target.

    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4. `limits` are
    "exact" for each point, or "asymptotic", the same wide ones for all.
    """
    check_sample(values)
    if not 0 < weight <= 1 or not sigma > 0 or limits not in ("exact", "asymptotic"):
        raise ValueError(
            "The weight lies above 0 and up to 1, sigma above 0, and limits are exact or "
            f"asymptotic; got {weight}, {sigma}, {limits!r}."
        )
    found, last = [], float(target)
    for value in values:
        last = weight * value + (1 - weight) * last
        found.append(last)
    places = np.arange(1, len(values) + 1)
    growth = 1 - (1 - weight) ** (2 * places) if limits == "exact" else np.ones(len(values))
    half = width * sigma * np.sqrt(weight / (2 - weight) * growth)
    lower, upper = tuple((target - half).tolist()), tuple((target + half).tolist())
    return Ewma(tuple(found), lower, upper, _outside(found, lower, upper))


@calculation("cusum_chart")
def cusum_chart(*, values: Sequence[float], target: float, slack: float, decision: float) -> Cusum:
    """Tabular cumulative sums in both directions, in the unit of the values.

    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3. A sum above
    `decision` is a signal; the sums run on.
    """
    check_sample(values)
    if slack < 0 or decision <= 0:
        raise ValueError("The slack is 0 or more and the decision limit above 0.")
    above, below = [0.0], [0.0]
    for value in values:
        above.append(max(0.0, above[-1] + value - target - slack))
        below.append(max(0.0, below[-1] + target - slack - value))
    upper, lower = tuple(above[1:]), tuple(below[1:])
    return Cusum(
        upper,
        lower,
        tuple(i for i, sums in enumerate(zip(upper, lower, strict=True)) if max(sums) > decision),
    )


def _base(values: Sequence[float] | Floats, baseline: int | None) -> Floats:
    """Return the points from which limits come."""
    if baseline is not None and not 1 <= baseline <= len(values):
        raise ValueError(f"The baseline is 1 to {len(values)} points; got {baseline}.")
    return np.asarray(values[:baseline], dtype=float)


def _shares(
    events: Sequence[int], total: Sequence[int], baseline: int | None
) -> tuple[Floats, Floats, float]:
    """Return the share of each point, its total, and the pooled share of the baseline."""
    if not events or len(events) != len(total):
        raise ValueError(f"Each total needs its events; got {len(events)} and {len(total)}.")
    for some, all_of_it in zip(events, total, strict=True):
        check_counts(some, all_of_it)
    sizes = np.asarray(total, dtype=float)
    pooled = float(_base(events, baseline).sum() / _base(total, baseline).sum())
    return np.asarray(events) / sizes, sizes, pooled


def _band(centre: float, half: Floats) -> tuple[tuple[float, ...], tuple[float, ...]]:
    lower, upper = np.clip(centre - half, 0, 1), np.clip(centre + half, 0, 1)
    return tuple(lower.tolist()), tuple(upper.tolist())


def _outside(
    values: Sequence[float] | Floats,
    lower: float | Sequence[float],
    upper: float | Sequence[float],
) -> tuple[int, ...]:
    points = np.asarray(values, dtype=float)
    beyond = (points < np.asarray(lower) - 1e-12) | (points > np.asarray(upper) + 1e-12)
    return tuple(int(place) for place in np.flatnonzero(beyond))
