"""Signed ranks of within-patient changes: the test and the interval that goes with it.

Scores from 0 to 10 are whole numbers, so equal changes and changes of zero are the
rule. Both the p value and the interval here come from the exact distribution of the
ranks as they are, ties included; no normal approximation is used.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy import stats

from register.domain.calculations import calculation
from reports.stats.checks import check_confidence, check_sample

# Binary noise of a decimal difference would break ties; scores have far fewer places.
_PLACES: Final = 9
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SignedRank:
    """Sum of the ranks of positive changes and the exact two-sided p.

    `zeros` changes of zero were left out. p is None when nothing else is left.
    """

    w_plus: float
    p: float | None
    zeros: int


@dataclass(frozen=True, slots=True)
class HodgesLehmann:
    """Median of the pairwise averages with its exact interval, in the unit of the values.

    `achieved_confidence` is at least what was asked for, because ranks are whole.
    The three are None when the sample is too small for such an interval.
    """

    estimate: float
    lower: float | None
    upper: float | None
    achieved_confidence: float | None


@calculation("wilcoxon_signed_rank")
def wilcoxon_signed_rank(*, differences: Sequence[float]) -> SignedRank:
    """Signed-rank test of changes; zeros are left out and counted, ties share their rank.

    Wilcoxon. Biometrics Bulletin 1945;1:80-83. p is the share of all sign patterns
    that lie at least as far from the middle.
    """
    check_sample(differences)
    changes = np.round(np.asarray(differences, dtype=float), _PLACES)
    left = changes[changes != 0]
    if not left.size:
        return SignedRank(0.0, None, len(changes))
    doubled = np.rint(2 * stats.rankdata(np.abs(left))).astype(int)
    observed = int(doubled[left > 0].sum())
    chances = _sums(doubled)
    middle = doubled.sum() / 2
    far = np.abs(np.arange(chances.size) - middle) >= abs(observed - middle)
    return SignedRank(observed / 2, float(min(1.0, chances[far].sum())), int((changes == 0).sum()))


@calculation("hodges_lehmann")
def hodges_lehmann(*, differences: Sequence[float], confidence: float = 0.95) -> HodgesLehmann:
    """Hodges-Lehmann estimate: the median of all averages of two changes (each with itself too).

    Hodges, Lehmann. Ann Math Stat 1963;34:598-611. The limits are the k-th smallest and
    largest average, k from the signed-rank distribution of n untied changes.
    """
    check_sample(differences)
    check_confidence(confidence)
    values = np.asarray(differences, dtype=float)
    first, second = np.triu_indices(values.size)
    averages = np.sort((values[first] + values[second]) / 2)
    estimate = float(np.median(averages))
    tail = np.cumsum(_sums(np.arange(1, values.size + 1)))
    k = int(np.searchsorted(tail, (1 - confidence) / 2))
    if k == 0:  # not even the outermost averages reach the confidence
        return HodgesLehmann(estimate, None, None, None)
    achieved = 1 - 2 * float(tail[k - 1])
    return HodgesLehmann(estimate, float(averages[k - 1]), float(averages[-k]), achieved)


def _sums(ranks: npt.NDArray[np.int_]) -> Floats:
    """Return the chance of each sum when every rank counts with probability one half."""
    chances = np.zeros(int(ranks.sum()) + 1)
    chances[0] = 1.0
    for rank in ranks:
        moved = np.zeros_like(chances)
        moved[rank:] = chances[: chances.size - rank]
        chances = (chances + moved) / 2
    return chances
