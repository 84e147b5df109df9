"""Time to an event: survival, two groups compared, competing causes, length of follow-up.

Times are in one unit, whichever the caller uses. `event` holds 1 where the event
happened and 0 where observation ended without it. Events count before ends of
observation on the same day. Own code, because the library at hand shifts tied times
at random; its other parts are oracles in the tests.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from register.domain.calculations import calculation
from reports.stats.checks import check_confidence, check_sample

Limits = tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Survival:
    """Survival at the asked times, with Greenwood's standard error and a log-log band.

    A value is None after the last observation (unless all had the event), the
    limits also where survival is still 1 or already 0.
    """

    survival: Limits
    standard_error: Limits
    lower: Limits
    upper: Limits
    at_risk: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LogRank:
    """Observed and expected events of two groups, chi-square with one degree of freedom, p.

    chi2 and p are None when there is no event to compare.
    """

    observed: tuple[float, float]
    expected: tuple[float, float]
    chi2: float | None
    p: float | None


@dataclass(frozen=True, slots=True)
class Incidence:
    """Cumulative incidence of one cause at the asked times; None after the last observation."""

    incidence: Limits
    standard_error: Limits
    lower: Limits
    upper: Limits
    at_risk: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Steps:
    """One row for each distinct time: how many were at risk, and what happened."""

    time: npt.NDArray[np.float64]
    at_risk: npt.NDArray[np.int_]
    events: npt.NDArray[np.int_]

    @property
    def survival(self) -> npt.NDArray[np.float64]:
        """Survival just after each time."""
        return np.asarray(np.cumprod(1 - self.events / self.at_risk), dtype=np.float64)

    @property
    def greenwood(self) -> npt.NDArray[np.float64]:
        """Greenwood's sum just after each time; infinite once nobody is left."""
        left = self.at_risk - self.events
        with np.errstate(divide="ignore", invalid="ignore"):
            terms = np.where(self.events > 0, self.events / (self.at_risk * left), 0.0)
        return np.cumsum(terms)


@calculation("kaplan_meier")
def kaplan_meier(
    *,
    time: Sequence[float],
    event: Sequence[int],
    at: Sequence[float],
    confidence: float = 0.95,
) -> Survival:
    """Kaplan-Meier survival at given times.

    Kaplan, Meier. JASA 1958;53:457-481; band by the log-log transform of Kalbfleisch and
    Prentice. Raises ValueError for unequal lengths, negative times or other codes.
    """
    steps = steps_of(time, event)
    check_confidence(confidence)
    z = float(stats.norm.ppf(0.5 + confidence / 2))
    found = [_survival_at(steps, moment, z) for moment in at]
    survival, error, lower, upper = _columns(found)
    return Survival(survival, error, lower, upper, _at_risk(time, at))


@calculation("logrank")
def logrank(
    *,
    time_1: Sequence[float],
    event_1: Sequence[int],
    time_2: Sequence[float],
    event_2: Sequence[int],
) -> LogRank:
    """Log-rank test of two groups with the hypergeometric variance.

    Mantel. Cancer Chemother Rep 1966;50:163-170. For one comparison declared beforehand.
    """
    one, two = steps_of(time_1, event_1), steps_of(time_2, event_2)
    moments = np.union1d(one.time[one.events > 0], two.time[two.events > 0])
    first, second = (np.array([_row(s, moment) for moment in moments]) for s in (one, two))
    if not moments.size:
        return LogRank((0.0, 0.0), (0.0, 0.0), None, None)
    n_1, d_1, n_2, d_2 = first[:, 0], first[:, 1], second[:, 0], second[:, 1]
    n, d = n_1 + n_2, d_1 + d_2
    expected = float((d * n_1 / n).sum())
    variance = float((d * n_1 * n_2 * (n - d) / (n**2 * np.maximum(n - 1, 1))).sum())
    observed = float(d_1.sum())
    chi2 = (observed - expected) ** 2 / variance if variance > 0 else None
    return LogRank(
        (observed, float(d_2.sum())),
        (expected, float(d.sum()) - expected),
        chi2,
        None if chi2 is None else float(stats.chi2.sf(chi2, 1)),
    )


@calculation("cumulative_incidence")
def cumulative_incidence(
    *,
    time: Sequence[float],
    cause: Sequence[int],
    of_cause: int,
    at: Sequence[float],
    confidence: float = 0.95,
) -> Incidence:
    """Share who had the event of one cause by given times, other causes competing.

    Aalen, Johansen. Scand J Stat 1978;5:141-150. `cause` is 0 where observation ended
    without any event. Standard error by the delta method (Marubini, Valsecchi 1995,
    quoted from memory); band by the log-log transform of the incidence.
    """
    if any(not isinstance(code, int) or code < 0 for code in cause) or of_cause < 1:
        raise ValueError("Causes are numbered 1, 2, …; 0 is the end of observation without event.")
    steps = steps_of(time, [int(code != 0) for code in cause])
    check_confidence(confidence)
    own = steps_of(time, [int(code == of_cause) for code in cause])
    z = float(stats.norm.ppf(0.5 + confidence / 2))
    found = [_incidence_at(steps, own, moment, z) for moment in at]
    incidence, error, lower, upper = _columns(found)
    return Incidence(incidence, error, lower, upper, _at_risk(time, at))


@calculation("median_follow_up", answer="median")
def median_follow_up(*, time: Sequence[float], event: Sequence[int]) -> float | None:
    """Median length of follow-up: Kaplan-Meier with event and end of observation exchanged.

    Schemper, Smith. Control Clin Trials 1996;17:343-346. None when it is not reached.
    """
    return median_time(steps_of(time, [1 - happened for happened in event]))


def median_time(steps: Steps) -> float | None:
    """Earliest time at which survival is one half or less; None when it is not reached."""
    reached = np.flatnonzero(steps.survival <= 0.5 + 1e-12)
    return float(steps.time[reached[0]]) if reached.size else None


def steps_of(time: Sequence[float], event: Sequence[int]) -> Steps:
    """Sort observations into distinct times. Raises ValueError for what cannot be."""
    check_sample(time)
    if len(time) != len(event):
        raise ValueError(f"Each time needs its event; got {len(time)} and {len(event)}.")
    if min(time) < 0:
        raise ValueError(f"A time cannot be below 0; got {min(time)}.")
    if any(code not in (0, 1) or isinstance(code, float) for code in event):
        raise ValueError("An event is 1 where it happened and 0 where observation ended.")
    times, happened = np.asarray(time, dtype=float), np.asarray(event, dtype=int)
    distinct, place = np.unique(times, return_inverse=True)
    there = np.bincount(place)
    at_risk = there[::-1].cumsum()[::-1]
    return Steps(distinct, at_risk, np.bincount(place, weights=happened).astype(int))


Point = tuple[float | None, float | None, float | None, float | None]


def _columns(points: Sequence[Point]) -> tuple[Limits, Limits, Limits, Limits]:
    """Turn one row for each time into four columns."""
    value, error, lower, upper = (tuple(point[i] for point in points) for i in range(4))
    return value, error, lower, upper


def _survival_at(steps: Steps, moment: float, z: float) -> Point:
    """Return survival, standard error and limits at one time."""
    place = int(np.searchsorted(steps.time, moment, side="right")) - 1
    if place < 0:
        return 1.0, 0.0, None, None
    share = float(steps.survival[place])
    if moment > steps.time[-1] and share > 0:
        return None, None, None, None
    if share in (0.0, 1.0):
        return share, 0.0 if share else None, None, None
    error = share * math.sqrt(float(steps.greenwood[place]))
    lower, upper = _log_log(share, error, z)
    return share, error, lower, upper


def _incidence_at(steps: Steps, own: Steps, moment: float, z: float) -> Point:
    """Return incidence, standard error and limits at one time."""
    place = int(np.searchsorted(steps.time, moment, side="right"))
    if place == 0:
        return 0.0, 0.0, None, None
    if moment > steps.time[-1] and steps.survival[-1] > 0:
        return None, None, None, None
    before = np.concatenate(([1.0], steps.survival[:-1]))[:place]
    n, d, d_own = steps.at_risk[:place], steps.events[:place], own.events[:place]
    curve = np.cumsum(before * d_own / n)
    share = float(curve[-1])
    if math.isclose(share, 1.0, rel_tol=1e-12):
        share = 1.0  # the sum of many parts misses the whole by a rounding
    ahead = share - curve
    left = np.where(n > d, n - d, 1)  # where nobody is left, nothing lies ahead
    variance = float(
        np.sum(ahead**2 * d / (n * left))
        + np.sum(before**2 * d_own * (n - d_own) / n**3)
        - 2 * np.sum(ahead * before * d_own / n**2)
    )
    error = math.sqrt(max(variance, 0.0))
    if share in (0.0, 1.0):
        return share, error, None, None
    lower, upper = _log_log(share, error, z)
    return share, error, lower, upper


def _log_log(share: float, error: float, z: float) -> tuple[float, float]:
    """Limits by the transform log(-log); they stay between 0 and 1."""
    width = z * error / (share * abs(math.log(share)))
    return share ** math.exp(width), share ** math.exp(-width)


def _row(steps: Steps, moment: float) -> tuple[float, float]:
    """Return how many of a group were at risk at a time, and how many had the event."""
    place = int(np.searchsorted(steps.time, moment))
    if place == steps.time.size:
        return 0.0, 0.0
    here = steps.time[place] == moment
    return float(steps.at_risk[place]), float(steps.events[place]) if here else 0.0


def _at_risk(time: Sequence[float], at: Sequence[float]) -> tuple[int, ...]:
    """Return how many were still under observation just before each time."""
    return tuple(sum(1 for value in time if value >= moment) for moment in at)
