"""What the patients not seen could hide: completeness, bounds and the tipping point."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from register.domain.calculations import calculation
from reports.stats.proportions import wilson_interval


@dataclass(frozen=True, slots=True)
class LossBounds:
    """Responder rate among those seen, and if all unseen had failed or had succeeded.

    Fractions. `complete` is None when nobody was seen. `lower` and `upper` are
    the outer band: the lower Wilson limit of the worst case to the upper limit
    of the best.
    """

    complete: float | None
    worst: float
    best: float
    lower: float
    upper: float


@calculation("completeness_index", answer="index")
def completeness_index(*, rows: Sequence[tuple[float, float, str]]) -> float:
    """Observed over potential person-time, as a fraction.

    Each row is (observed, potential, why it ended) in one and the same unit of
    time; potential time runs to the closing day, or to death or the event.
    Clark, Altman, De Stavola. Lancet 2002;359:1309-1310.
    """
    for observed, potential, _ in rows:
        if not 0 <= observed <= potential:
            raise ValueError(
                f"Observed time runs from 0 to the potential time; got {observed} of {potential}."
            )
    total = sum(potential for _, potential, _ in rows)
    if not total:
        raise ValueError("There is no follow-up time to complete yet; give at least one row.")
    return float(sum(observed for observed, _, _ in rows) / total)


@calculation("loss_bounds")
def loss_bounds(
    *, treated: int, followed: int, responders: int, confidence: float = 0.95
) -> LossBounds:
    """Bounds of a responder rate when some of the treated were not seen.

    Worst and best case as in Sackett's teaching on loss to follow-up; for a
    proportion they are the bounds of Manski. Raises ValueError for counts that
    do not nest (responders <= followed <= treated, at least one treated).
    """
    _check_nested(treated, followed, responders)
    missing = treated - followed
    low = wilson_interval(events=responders, total=treated, confidence=confidence)
    high = wilson_interval(events=responders + missing, total=treated, confidence=confidence)
    return LossBounds(
        complete=responders / followed if followed else None,
        worst=responders / treated,
        best=(responders + missing) / treated,
        lower=low.lower,
        upper=high.upper,
    )


@calculation("tipping_point", answer="needed")
def tipping_point(*, treated: int, followed: int, responders: int, standard: float) -> int | None:
    """Fewest responders among the unseen that bring the whole cohort up to a standard.

    `standard` is a fraction. 0 when the seen reach it alone; None when even all
    of the unseen could not.
    """
    _check_nested(treated, followed, responders)
    if not 0 <= standard <= 1:
        raise ValueError(f"The standard is a fraction from 0 to 1; got {standard}.")
    wanted = Decimal(str(standard)) * treated - responders
    needed = max(0, math.ceil(wanted))
    return needed if needed <= treated - followed else None


def _check_nested(treated: int, followed: int, responders: int) -> None:
    whole = all(isinstance(n, int) for n in (treated, followed, responders))
    if not whole or not 0 <= responders <= followed <= treated or treated < 1:
        raise ValueError(
            f"Responders are some of those followed, who are some of those treated; got "
            f"{responders}, {followed} and {treated}."
        )
