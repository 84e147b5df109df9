"""Levels of a study that were measured more than once, for the comparison of readings."""

from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.db.models import Exists, OuterRef, QuerySet

from register.domain.comparing import ONE_POSTURE, Circumstances
from register.domain.repeats import MEASURES, Measured
from register.models import Marking, Measurement, Site
from register.selectors.circumstances import posture_of

_FIELDS: Final = tuple(measure.field for measure in MEASURES)


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
    rows = rows.select_related("reading__study", "marking").order_by("measured_on", "pk")
    return [_measured(row) for row in rows]


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


def _measured(row: Measurement) -> Measured:
    study = row.reading.study
    values: dict[str, Decimal | None] = {name: getattr(row, name) for name in _FIELDS}
    return Measured(
        key=row.pk,
        patient=study.patient_id,
        study=study.pk,
        level=row.reading.level,
        observer=row.observer_id,
        measured_on=row.measured_on,
        circumstances=Circumstances(_posture(row), row.calibration),
        values={name: value for name, value in values.items() if value is not None},
        end_plates=row.angle_end_plates,
        marking=row.marking_id,
        repeats=row.marking.repeats_id if row.marking else None,
    )


def _posture(row: Measurement) -> str:
    """Return the posture; the images of one CT or MRI have one even where nobody wrote which."""
    one_posture = row.reading.study.modality in ONE_POSTURE
    return posture_of(row) or ("the one of the examination" if one_posture else "")
