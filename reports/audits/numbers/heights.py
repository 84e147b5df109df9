"""Anterior height over time, by posture, never subtracted across postures. Clock: done.

An image belongs to the timepoint in whose window its day falls. The day of the
procedure itself is left out: the record cannot tell an image before from one
after. Heights without calibration are ratios, not millimetres, and left out.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from register.domain.measures import within_height_error
from register.domain.timepoints import Timepoint, name_contact
from register.domain.vocabulary import POSTURE, words_for
from reports.audits.rows import HeightRow, Rows
from reports.audits.spec import BEFORE, Period, Spec
from reports.audits.values import Average, average


@dataclass(frozen=True, slots=True)
class HeightAt:
    """Heights at one timepoint in one posture, in mm, and the change from before in the same.

    `pairs` levels have both; `higher`, `within` and `lower` of them changed by
    at least the measurement error upwards, by less, or downwards.
    """

    timepoint: str
    title: str
    target_days: int
    posture: str
    posture_words: str
    height: Average
    change: Average
    higher: int
    within: int
    lower: int

    @property
    def pairs(self) -> int:
        """Levels measured before and at this timepoint in the same posture."""
        return self.change.n


@dataclass(frozen=True, slots=True)
class Heights:
    """Heights of the levels treated in a period; the last five count the images left out."""

    levels: int
    measured: int
    at: tuple[HeightAt, ...]
    no_height: int
    no_posture: int
    uncalibrated: int
    same_day: int
    between_windows: int
    calibration_unknown: int

    @property
    def compared(self) -> tuple[HeightAt, ...]:
        """The timepoints after the procedure at which something could be compared."""
        return tuple(one for one in self.at if one.pairs)


Best = dict[tuple[str, str, str], HeightRow]  # level, timepoint, posture -> the image nearest


def heights(spec: Spec, rows: Rows, period: Period) -> Heights:
    """Compare the anterior heights of the levels treated in a period."""
    days = {row.key: row.performed_on for row in rows.procedures}
    done = {
        row.key: days[row.procedure] for row in rows.levels if period.holds(days[row.procedure])
    }
    images = [row for row in rows.heights if row.level in done and row.taken_on <= spec.cut_off]
    usable = [row for row in images if _is_usable(row)]
    named = [(row, _timepoint(spec, row, done[row.level])) for row in usable]
    best = _nearest(named, done)
    points = [t for t in spec.protocol.timepoints if any(k[1] == t.code for k in best)]
    return Heights(
        levels=len(done),
        measured=len({level for level, _, _ in best}),
        at=tuple(
            _at(spec, best, point, posture)
            for posture in [code for code, _ in POSTURE if any(k[2] == code for k in best)]
            for point in points
            if any(k[1:] == (point.code, posture) for k in best)
        ),
        no_height=sum(row.anterior_mm is None for row in images),
        no_posture=sum(row.anterior_mm is not None and not row.posture for row in images),
        uncalibrated=sum(
            row.anterior_mm is not None and bool(row.posture) and row.calibration == "none"
            for row in images
        ),
        same_day=sum(row.taken_on == done[row.level] for row in usable),
        between_windows=sum(
            point is None and row.taken_on != done[row.level] for row, point in named
        ),
        calibration_unknown=sum(not row.calibration for row in best.values()),
    )


def _is_usable(row: HeightRow) -> bool:
    return row.anterior_mm is not None and bool(row.posture) and row.calibration != "none"


def _timepoint(spec: Spec, row: HeightRow, performed_on: date) -> Timepoint | None:
    if row.taken_on == performed_on:
        return None
    return name_contact(performed_on, row.taken_on, spec.protocol.timepoints)


def _nearest(named: Iterable[tuple[HeightRow, Timepoint | None]], done: dict[str, date]) -> Best:
    """Of several images of a level in one window and posture, the one nearest to its day."""
    best: dict[tuple[str, str, str], tuple[tuple[int, str], HeightRow]] = {}
    for row, point in named:
        if point is None:
            continue
        days = (row.taken_on - done[row.level]).days
        rank = (abs(days - point.target_days), row.key)
        place = (row.level, point.code, row.posture)
        if place not in best or rank < best[place][0]:
            best[place] = (rank, row)
    return {place: row for place, (_, row) in best.items()}


def _at(spec: Spec, best: Best, point: Timepoint, posture: str) -> HeightAt:
    here = {k[0]: _mm(row) for k, row in best.items() if k[1:] == (point.code, posture)}
    before = {k[0]: _mm(row) for k, row in best.items() if k[1:] == (BEFORE, posture)}
    pairs = sorted(set(here) & set(before)) if point.code != BEFORE else []
    changes = [here[level] - before[level] for level in pairs]
    real = [change for change in changes if not within_height_error(change, spec.protocol)]
    higher = sum(change > 0 for change in real)
    return HeightAt(
        timepoint=point.code,
        title=point.title,
        target_days=point.target_days,
        posture=posture,
        posture_words=words_for(POSTURE, posture),
        height=average([here[level] for level in sorted(here)]),
        change=average(changes),
        higher=higher,
        within=len(changes) - len(real),
        lower=len(real) - higher,
    )


def _mm(row: HeightRow) -> Decimal:
    assert row.anterior_mm is not None
    return row.anterior_mm
