"""Measured heights of one spine: what was measured where, and what a fracture has lost.

A reference height is taken from the same examination only: posture and method
change a height more than most fractures do.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from planning.evidence import Evidence
from register.domain.measures import (
    HeightLoss,
    Heights,
    Reference,
    genant_grade,
    height_loss,
    reference_heights,
)
from register.models import Measurement, Reading

# Outside this range two fields or two postures were mixed up; it is then no fact.
LEAST_LOSS, MOST_LOSS = Decimal(-50), Decimal(100)
_GAVE_WAY = ("superior", "inferior", "both")


@dataclass(frozen=True, slots=True)
class MeasuredLevel:
    """The newest measurement of one level, with the reading it belongs to."""

    level: str
    reading: Reading
    measurement: Measurement

    @property
    def heights(self) -> Heights:
        """The three heights in mm."""
        m = self.measurement
        return Heights(m.anterior_height_mm, m.middle_height_mm, m.posterior_height_mm)


@dataclass(frozen=True, slots=True)
class Loss:
    """Height loss of a fracture in percent, its grade, and what it was compared with."""

    loss: HeightLoss
    reference: Reference
    measured: MeasuredLevel

    @property
    def percent(self) -> Decimal:
        """The largest loss, to 0.01 %: finer than any measurement, short enough to read."""
        return self.loss.percent.quantize(Decimal("0.01"))

    @property
    def grade(self) -> int:
        """The semiquantitative grade, 0 to 3."""
        return genant_grade(self.percent)


def measured_levels(readings: Iterable[Reading]) -> dict[str, MeasuredLevel]:
    """Return the newest measurement per level; the readings come newest first."""
    found: dict[str, MeasuredLevel] = {}
    for reading in readings:
        for measurement in reading.measurements.all():
            found.setdefault(reading.level, MeasuredLevel(reading.level, reading, measurement))
    return found


def fracture_measured(evidence: Evidence) -> MeasuredLevel | None:
    """Return the newest measurement of the fracture itself."""
    return measured_levels(evidence.readings).get(evidence.fracture.level)


def same_study(evidence: Evidence, measured: MeasuredLevel) -> dict[str, MeasuredLevel]:
    """Return what was measured at other levels in the same examination."""
    study = measured.reading.study_id
    readings = [r for r in evidence.patient_readings if r.study_id == study]
    levels = measured_levels(readings)
    levels.pop(measured.level, None)
    return levels


def loss_of(evidence: Evidence) -> Loss | None:
    """Return the loss against the nearest intact levels; None when nothing can be compared."""
    measured = fracture_measured(evidence)
    if measured is None:
        return None
    others = {at: m.heights for at, m in same_study(evidence, measured).items()}
    reference = reference_heights(measured.level, others, fractured_levels(evidence))
    found = height_loss(measured.heights, reference.heights) if reference else None
    if reference is None or found is None or not LEAST_LOSS <= found.percent <= MOST_LOSS:
        return None
    return Loss(found, reference, measured)


def height_loss_fact(evidence: Evidence) -> tuple[Decimal | None, date | None]:
    """Return the height loss in percent with the day of the images; (None, None) without one."""
    found = loss_of(evidence)
    if found is None:
        return None, None
    return found.percent, found.measured.reading.study.performed_on


def fractured_levels(evidence: Evidence) -> frozenset[str]:
    """Return the levels that give no reference height: with a fracture, or read as one."""
    return evidence.fractured_levels | _read_as_fractured(evidence.patient_readings)


def _read_as_fractured(readings: Iterable[Reading]) -> frozenset[str]:
    return frozenset(r.level for r in readings if r.end_plates in _GAVE_WAY)
