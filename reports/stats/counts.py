"""Counts of rare events and their ratio to what was expected; small counts that leave the house."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from scipy import stats

from register.domain.calculations import calculation
from reports.stats.checks import check_confidence

HIDDEN: Final = "*"


@dataclass(frozen=True, slots=True)
class CountInterval:
    """Limits of the number of events to expect."""

    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class Ratio:
    """Observed over expected with its limits. Two units' ratios are not comparable."""

    ratio: float
    lower: float
    upper: float


@calculation("poisson_exact_interval")
def poisson_exact_interval(*, events: int, confidence: float = 0.95) -> CountInterval:
    """Exact limits of a count: Garwood. Biometrika 1936;28:437-442."""
    if not isinstance(events, int) or isinstance(events, bool) or events < 0:
        raise ValueError(f"A count is a whole number from 0 upwards; got {events!r}.")
    check_confidence(confidence)
    tail = (1 - confidence) / 2
    lower = float(stats.chi2.ppf(tail, 2 * events)) / 2 if events else 0.0
    return CountInterval(lower, float(stats.chi2.ppf(1 - tail, 2 * events + 2)) / 2)


@calculation("standardised_ratio")
def standardised_ratio(*, observed: int, expected: float, confidence: float = 0.95) -> Ratio:
    """Observed over expected events with exact Poisson limits of the observed count."""
    number = isinstance(expected, (int, float)) and not isinstance(expected, bool)
    if not number or not 0 < expected < float("inf"):
        raise ValueError(f"The expected number is above 0; got {expected!r}.")
    limits = poisson_exact_interval(events=observed, confidence=confidence)
    return Ratio(observed / expected, limits.lower / expected, limits.upper / expected)


@calculation("small_number_suppression", answer="shown")
def small_number_suppression(
    *, counts: Sequence[int], suppress_from: int, suppress_to: int, round_to: int = 1
) -> list[str]:
    """Counts as they may leave the department: small ones hidden, the others rounded.

    A count from `suppress_from` to `suppress_to` becomes "*", any other is rounded to
    the nearest multiple of `round_to`, halves upwards. The bounds are local policy.
    """
    _check_bounds(suppress_from, suppress_to, round_to)
    for count in counts:
        if not isinstance(count, int) or isinstance(count, bool) or count < 0:
            raise ValueError(f"A count is a whole number from 0 upwards; got {count!r}.")
    return [
        HIDDEN if suppress_from <= count <= suppress_to else str(_rounded(count, round_to))
        for count in counts
    ]


def hidden_cells(
    table: Sequence[Sequence[int]], *, suppress_from: int, suppress_to: int
) -> frozenset[tuple[int, int]]:
    """Cells (row, column) to hide in a table whose row and column totals are shown.

    Small counts first; then, in any line where just one cell is hidden and could be
    told from the total, the smallest other count above 0 (a zero only where there is
    nothing else), until no line gives one away. A line of one cell hides that cell's
    total instead: the caller leaves it out.
    """
    _check_bounds(suppress_from, suppress_to, 1)
    hidden = {
        (r, c)
        for r, row in enumerate(table)
        for c, count in enumerate(row)
        if suppress_from <= count <= suppress_to
    }
    lines = _lines(table)
    while lone := next((line for line in lines if _gives_away(line, hidden)), None):
        others = [cell for cell in lone if cell not in hidden]
        hidden.add(min(others, key=lambda cell: (table[cell[0]][cell[1]] == 0,
                                                 table[cell[0]][cell[1]], cell)))  # fmt: skip
    return frozenset(hidden)


def _lines(table: Sequence[Sequence[int]]) -> list[list[tuple[int, int]]]:
    """Return the cells of each row and of each column."""
    rows = [[(r, c) for c in range(len(row))] for r, row in enumerate(table)]
    width = max((len(row) for row in table), default=0)
    columns = [[(r, c) for r in range(len(table)) if c < len(table[r])] for c in range(width)]
    return rows + columns


def _gives_away(line: list[tuple[int, int]], hidden: set[tuple[int, int]]) -> bool:
    return len(line) > 1 and sum(cell in hidden for cell in line) == 1


def _rounded(count: int, step: int) -> int:
    return (2 * count + step) // (2 * step) * step


def _check_bounds(suppress_from: int, suppress_to: int, round_to: int) -> None:
    if not 0 <= suppress_from <= suppress_to or round_to < 1:
        raise ValueError(
            "Suppression runs from a smaller to a larger count, and rounding is to 1 or more; "
            f"got {suppress_from} to {suppress_to}, rounded to {round_to}."
        )
