"""In which posture a measurement was taken, and how its images were scaled."""

from register.domain.comparing import Circumstances, stated_posture
from register.models import Measurement


def circumstances_of(row: Measurement) -> Circumstances:
    """Return posture and calibration of a measurement; its reading and study are at hand."""
    return Circumstances(posture_of(row), row.calibration)


def posture_of(row: Measurement) -> str:
    """Return the posture of a measurement, or that of its examination; '' is not recorded."""
    study = row.reading.study
    return stated_posture(
        row.posture,
        answered="posture" in row.absent,
        modality=study.modality,
        of_study=study.posture,
    )
