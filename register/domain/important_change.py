"""When a change in pain or function matters to the patient, and one questionnaire's arithmetic.

Bounds: Ostelo et al., Spine 2008;33:90 (published, abstract read): 2 of 10 or
15 of 100 for pain, 5 for the 24-item disability total, 10 for the ten-section
index, or 30 % of the baseline. They are for low back pain, not for fracture.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Final

from register.domain.calculations import calculation
from register.domain.decimals import Number, exact
from register.domain.protocol import ProtocolValues, shipped

# Measure -> the protocol value of its smallest important fall.
POINTS: Final[Mapping[str, str]] = {
    "nrs": "change.nrs_points",
    "vas": "change.vas_points",
    "rmdq": "change.rmdq_points",
    "odi": "change.odi_points",
}
# Measure -> highest score; all start at 0, and less is better.
HIGHEST: Final[Mapping[str, int]] = {"nrs": 10, "vas": 100, "rmdq": 24, "odi": 100}
_FIRST_DAY: Final = date(2020, 1, 1)


@dataclass(frozen=True, slots=True)
class Bounds:
    """Smallest important fall: in points of each measure, and in percent of the baseline."""

    points: Mapping[str, Decimal]
    percent: Decimal

    @classmethod
    def of(cls, values: ProtocolValues) -> "Bounds":
        """Return the bounds of a protocol."""
        return cls(
            {measure: values.number(id) for measure, id in POINTS.items()},
            values.number("change.percent_of_baseline"),
        )


@cache
def published_bounds() -> Bounds:
    """Return the published bounds, as first shipped."""
    return Bounds.of(shipped(_FIRST_DAY))


@dataclass(frozen=True, slots=True)
class ImportantChange:
    """Whether a change reaches the bound. `by_percent` is None when the baseline is 0."""

    change: Decimal
    by_points: bool
    by_percent: bool | None


@calculation("important_change")
def important_change(measure: str, baseline: Number, follow_up: Number) -> ImportantChange:
    """Return whether a fall from baseline to follow-up matters, by the published bounds.

    `measure` is nrs (0 to 10), vas (0 to 100), rmdq (0 to 24) or odi (0 to 100).
    `change` is follow-up minus baseline: negative is better. The bounds count as
    reached. Raises ValueError for an unknown measure or a score out of range.
    """
    return important_change_by(published_bounds(), measure, baseline, follow_up)


def important_change_by(
    bounds: Bounds, measure: str, baseline: Number, follow_up: Number
) -> ImportantChange:
    """Return the same by the bounds of a department's protocol."""
    before, after = (
        _score(measure, baseline, "The baseline"),
        _score(measure, follow_up, "The score"),
    )
    fall = before - after
    by_percent = fall * 100 >= bounds.percent * before if before else None
    return ImportantChange(-fall, fall >= bounds.points[measure], by_percent)


def _score(measure: str, value: Number, name: str) -> Decimal:
    if measure not in HIGHEST:
        raise ValueError(f"{measure!r} has no published bound; use {', '.join(POINTS)}.")
    score = exact(value, name)
    if not 0 <= score <= HIGHEST[measure]:
        raise ValueError(f"{name} of {measure} lies from 0 to {HIGHEST[measure]}, not at {value}.")
    return score


@calculation("odi_percent", answer="percent")
def odi_percent(sum: int, sections_answered: int) -> Decimal:
    """Return the ten-section disability index: sum / (5 × sections answered) × 100 %.

    A section that was not answered lowers the denominator by 5 (published
    scoring, read). Raises ValueError for no section, more than ten, or a sum
    that the answered sections cannot have.
    """
    total, sections = exact(sum, "The sum"), exact(sections_answered, "Sections answered")
    if sections != int(sections) or not 1 <= sections <= 10:
        raise ValueError(f"Sections answered lie from 1 to 10, not at {sections_answered}.")
    if total != int(total) or not 0 <= total <= 5 * sections:
        raise ValueError(f"{sections_answered} sections give a sum from 0 to {5 * sections}.")
    return total * 100 / (5 * sections)
