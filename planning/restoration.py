"""Height regained by a treatment: before and after side by side, or why they are not compared.

Images of the day of the procedure itself are left out: the record cannot tell one
before from one after. Two postures, or two ways of calibrating, are never subtracted.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise

from planning.evidence import Evidence
from planning.heights import MeasuredLevel, fractured_levels, same_study
from register.domain.comparing import Circumstances, nearest_comparable
from register.domain.measures import (
    PLACES,
    Heights,
    Restoration,
    height_restoration,
    reference_heights,
)
from register.models import TreatedLevel
from register.selectors.circumstances import circumstances_of


@dataclass(frozen=True, slots=True)
class Regained:
    """One of the three heights before and after, in mm, in the four published ways."""

    place: str
    before_mm: Decimal
    after_mm: Decimal
    reference_mm: Decimal | None
    found: Restoration


@dataclass(frozen=True, slots=True)
class Comparison:
    """One image after a treatment beside the one before that comes nearest to it.

    `why_not` is a code of `comparing.WHY_NOT`; then `heights` is empty. The angle is in
    degrees, None where one of both lacks it, or the postures differ. `reference_from`
    are the intact levels, on the images before, that the reference heights come from.
    """

    treated_on: date
    before: MeasuredLevel | None
    after: MeasuredLevel
    why_not: str
    heights: tuple[Regained, ...]
    reference_from: tuple[str, ...]
    angle_change_deg: Decimal | None


def treated_on_days(fracture_id: int) -> list[date]:
    """Return the days on which a fracture was treated, the first one first. One query."""
    rows = TreatedLevel.objects.live().filter(fracture=fracture_id, procedure__voided_at=None)
    days = rows.values_list("procedure__performed_on", flat=True)
    return sorted(set(days))


def comparisons(evidence: Evidence, days: Sequence[date]) -> tuple[Comparison, ...]:
    """Return every examination after a treatment beside one before; the newest treatment last."""
    images = list(_images(evidence))
    found = []
    for treated_on, next_on in pairwise([*days, date.max]):
        before = [one for one in images if _taken(one) < treated_on]
        after = [one for one in images if treated_on < _taken(one) < next_on]
        found += [_compared(evidence, treated_on, before, one) for one in reversed(after)]
    return tuple(found)


def _images(evidence: Evidence) -> Iterator[MeasuredLevel]:
    """Yield one measurement for each examination of the fracture, the newest first."""
    seen = set()
    for reading in evidence.readings:
        newest = next(iter(reading.measurements.all()), None)
        if newest is not None and reading.study_id not in seen:
            seen.add(reading.study_id)
            yield MeasuredLevel(reading.level, reading, newest)


def _taken(one: MeasuredLevel) -> date:
    taken_on: date = one.reading.study.performed_on
    return taken_on


def _compared(
    evidence: Evidence, treated_on: date, before: Sequence[MeasuredLevel], after: MeasuredLevel
) -> Comparison:
    how, candidates = _how(after), [(one, _how(one)) for one in before]
    found, why_not = nearest_comparable(how, candidates)
    heights: tuple[Regained, ...] = ()
    levels: tuple[str, ...] = ()
    if found is not None and not why_not:
        heights, levels = _regained(evidence, found, after)
    in_posture, no_angle = nearest_comparable(how, candidates, in_mm=False)
    return Comparison(
        treated_on=treated_on,
        before=found,
        after=after,
        why_not=why_not,
        heights=heights,
        reference_from=levels,
        angle_change_deg=None if no_angle else _turned(in_posture, after),
    )


def _how(one: MeasuredLevel) -> Circumstances:
    return circumstances_of(one.measurement)


def _regained(
    evidence: Evidence, before: MeasuredLevel, after: MeasuredLevel
) -> tuple[tuple[Regained, ...], tuple[str, ...]]:
    others = {at: near.heights for at, near in same_study(evidence, before).items()}
    reference = reference_heights(before.level, others, fractured_levels(evidence))
    expected = reference.heights if reference else Heights()
    rows = []
    for place in PLACES:
        was, now, whole = before.heights.at(place), after.heights.at(place), expected.at(place)
        if was is not None and now is not None:
            rows.append(Regained(place, was, now, whole, height_restoration(was, now, whole)))
    return tuple(rows), reference.levels if reference else ()


def _turned(before: MeasuredLevel | None, after: MeasuredLevel) -> Decimal | None:
    if before is None:
        return None
    was, now = before.measurement.vertebral_angle_deg, after.measurement.vertebral_angle_deg
    return None if was is None or now is None else now - was
