"""Levels of a study that were measured more than once, for the comparison of readings."""

from datetime import date
from typing import Any, Final

from django.db.models import Exists, OuterRef, QuerySet

from register.domain.comparing import ONE_POSTURE, Circumstances, stated_posture
from register.domain.repeats import MEASURES, Measured
from register.models import Marking, Measurement, Site

_FIELDS: Final = tuple(measure.field for measure in MEASURES)
# Plain values, not rows: a page compares thousands of readings.
_COLUMNS: Final = (
    *_FIELDS, "pk", "observer", "measured_on", "posture", "calibration", "angle_end_plates",
    "absent", "marking", "marking__repeats", "reading__level", "reading__study",
    "reading__study__patient", "reading__study__modality", "reading__study__posture",
)  # fmt: skip


def measured_again(site: Site, *, until: date, blinded_only: bool = False) -> list[Measured]:
    """Return all live measurements of levels measured more than once in a study. One query.

    With `blinded_only`, only measurements that repeat hidden marks, and those they repeat.
    """
    rows = _live(site, until)
    if blinded_only:
        rows = rows.filter(marking__in=_of_blinded_pairs())
    else:
        rows = rows.filter(
            Exists(
                _live(site, until)
                .filter(
                    reading__study=OuterRef("reading__study"),
                    reading__level=OuterRef("reading__level"),
                )
                .exclude(pk=OuterRef("pk"))
            )
        )
    return [_measured(row) for row in rows.order_by("measured_on", "pk").values(*_COLUMNS)]


def _of_blinded_pairs() -> QuerySet[Marking, Any]:
    """Return the keys of markings that repeat another one, and of those they repeat.

    Few in any register: found first, so that the measurements of a site are not all read.
    """
    repeats = Marking.objects.live().filter(repeats__isnull=False)
    return repeats.values("pk").union(repeats.values("repeats"))


def _live(site: Site, until: date) -> QuerySet[Measurement]:
    return Measurement.objects.live().filter(
        reading__study__patient__site=site,
        reading__study__patient__voided_at=None,
        reading__study__voided_at=None,
        reading__voided_at=None,
        measured_on__lte=until,
    )


def _measured(row: dict[str, Any]) -> Measured:
    return Measured(
        key=row["pk"],
        patient=row["reading__study__patient"],
        study=row["reading__study"],
        level=row["reading__level"],
        observer=row["observer"],
        measured_on=row["measured_on"],
        circumstances=Circumstances(_posture(row), row["calibration"]),
        values={name: row[name] for name in _FIELDS if row[name] is not None},
        end_plates=row["angle_end_plates"],
        marking=row["marking"],
        repeats=row["marking__repeats"],
    )


def _posture(row: dict[str, Any]) -> str:
    """Return the posture; the images of one CT or MRI have one even where nobody wrote which."""
    modality = row["reading__study__modality"]
    posture = stated_posture(
        row["posture"],
        answered="posture" in row["absent"],
        modality=modality,
        of_study=row["reading__study__posture"],
    )
    return posture or ("the one of the examination" if modality in ONE_POSTURE else "")
