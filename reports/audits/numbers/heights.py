"""Anterior height over time, never subtracted across postures or scales. Clock: done.

An image belongs to the timepoint in whose window its day falls. The day of the
procedure itself is left out: the record cannot tell an image before from one
after. Heights without calibration are ratios, not millimetres, and left out.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from register.domain.comparing import WHY_NOT, Circumstances, why_not_comparable
from register.domain.measures import within_height_error
from register.domain.timepoints import Timepoint, name_contact
from register.domain.vocabulary import CALIBRATION, POSTURE, words_for
from reports.audits.rows import HeightRow, Rows
from reports.audits.spec import BEFORE, Period, Spec
from reports.audits.values import Average, average


@dataclass(frozen=True, slots=True)
class HeightAt:
    """Heights at one timepoint in one posture, in mm, and the change from before in the same.

    Before and after are also scaled in the same way. `pairs` levels have both; `higher`,
    `within` and `lower` of them changed by at least the measurement error upwards, by
    less, or downwards.
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
        """Levels measured before and at this timepoint in the same posture and scale."""
        return self.change.n


@dataclass(frozen=True, slots=True)
class Heights:
    """Heights of the levels treated in a period; those from `no_height` on count images left out.

    `scales` counts the heights used by where their millimetres come from, in words.
    `not_comparable` counts, by reason, the levels and timepoints after the procedure that
    have a usable height and none before that may be subtracted from it.
    """

    levels: int
    measured: int
    at: tuple[HeightAt, ...]
    not_comparable: tuple[tuple[str, int], ...]
    no_height: int
    no_posture: int
    uncalibrated: int
    same_day: int
    between_windows: int
    calibration_unknown: int
    scales: tuple[tuple[str, int], ...] = ()

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
        not_comparable=_not_comparable(best),
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
        scales=_scales(best),
    )


def _scales(best: Best) -> tuple[tuple[str, int], ...]:
    counts = Counter(row.calibration for row in best.values())
    return tuple((words, counts[code]) for code, words in CALIBRATION if counts[code])


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
    here = {k[0]: row for k, row in best.items() if k[1:] == (point.code, posture)}
    pairs = {} if point.code == BEFORE else _pairs(best, here)
    changes = [_mm(here[level]) - _mm(before) for level, before in sorted(pairs.items())]
    real = [change for change in changes if not within_height_error(change, spec.values)]
    higher = sum(change > 0 for change in real)
    return HeightAt(
        timepoint=point.code,
        title=point.title,
        target_days=point.target_days,
        posture=posture,
        posture_words=words_for(POSTURE, posture),
        height=average([_mm(here[level]) for level in sorted(here)]),
        change=average(changes),
        higher=higher,
        within=len(changes) - len(real),
        lower=len(real) - higher,
    )


def _pairs(best: Best, here: dict[str, HeightRow]) -> dict[str, HeightRow]:
    """Return for each level the height before that may be subtracted from the one here."""
    before = {level: best.get((level, BEFORE, row.posture)) for level, row in here.items()}
    return {
        level: one
        for level, one in before.items()
        if one is not None and not _why_not(one, here[level])
    }


def _not_comparable(best: Best) -> tuple[tuple[str, int], ...]:
    """Count levels and timepoints without any pair, by what stands against the nearest one."""
    after: dict[tuple[str, str], list[HeightRow]] = {}
    before: dict[str, list[HeightRow]] = {}
    for (level, timepoint, _), row in best.items():
        if timepoint == BEFORE:
            before.setdefault(level, []).append(row)
        else:
            after.setdefault((level, timepoint), []).append(row)
    lost: Counter[str] = Counter()
    for (level, _), rows in after.items():
        found = {_why_not(one, row) for row in rows for one in before.get(level, [])}
        if "" not in found:
            lost[_nearest_reason(found)] += 1
    words = (("", "no usable height before"), *WHY_NOT)
    return tuple((told, lost[code]) for code, told in words if lost[code])


def _nearest_reason(found: set[str]) -> str:
    """Return what stood against the height that came nearest: the last of WHY_NOT, or ''."""
    return next((code for code, _ in reversed(WHY_NOT) if code in found), "")


def _why_not(before: HeightRow, after: HeightRow) -> str:
    return why_not_comparable(
        Circumstances(before.posture, before.calibration),
        Circumstances(after.posture, after.calibration),
    )


def _mm(row: HeightRow) -> Decimal:
    assert row.anterior_mm is not None
    return row.anterior_mm
