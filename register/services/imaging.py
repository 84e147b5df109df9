"""Writing what was seen: a study, the reading of one level, and its measurements."""

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError

from register.domain.levels import above, below
from register.history import acting, because
from register.models import Measurement, Patient, Reading, Study, User
from register.services.records import part_change, record_change, record_create

HEIGHTS = ("anterior_height_mm", "middle_height_mm", "posterior_height_mm", "depth_mm")


def study_create(*, patient: Patient, user: User, **fields: Any) -> Study:
    """Make a study. Raises ValidationError."""
    study = Study(patient=patient, **fields)
    return record_create(record=study, user=user, reason="Study recorded")


def study_change(
    *, study: Study, expected_version: int, user: User, why: str = "", **fields: Any
) -> Study:
    """Change a study. `why` stands in the history. Raises ValidationError, EditConflict."""
    return record_change(
        record=study,
        expected_version=expected_version,
        user=user,
        reason=because("Study changed", why),
        fields=fields,
    )


def reading_record(
    *,
    study: Study,
    level: str,
    reading: Reading | None,
    expected_version: int,
    user: User,
    findings: Mapping[str, Any],
    measurement: Mapping[str, Any] | None = None,
    neighbours: Mapping[str, Mapping[str, Any]] | None = None,
    why: str = "",
) -> Reading:
    """Write a reading, its measurement, and the heights of its neighbours, all or nothing.

    `reading` is None for a new one (the version is then ignored). `measurement`
    and each of `neighbours` (by level) hold the fields of a Measurement, with `id`
    and `version` when it exists; None leaves it alone. Raises ValidationError,
    EditConflict about the reading, PartConflict about a measurement. `why` says in the
    history why an existing reading is changed.
    """
    _refuse_foreign_fracture(study, level, findings)
    with acting(user, because(f"{level} read", why)):
        if reading is None:
            made = Reading(study=study, level=level, **findings)
            reading = record_create(record=made, user=user, reason=f"{level} read")
        else:
            record_change(
                record=reading,
                expected_version=expected_version,
                user=user,
                reason=because(f"Reading of {level} changed", why),
                fields=findings,
            )
        if measurement is not None:
            measurement_write(reading=reading, user=user, given=measurement)
        for neighbour, given in (neighbours or {}).items():
            _neighbour_write(reading, neighbour, given, user)
    return reading


def measurement_write(*, reading: Reading, user: User, given: Mapping[str, Any]) -> Measurement:
    """Make or change a measurement of a reading. Raises ValidationError, PartConflict."""
    fields = dict(given)
    number, version = fields.pop("id", None), fields.pop("version", None) or 0
    if number is None:
        made = Measurement(
            reading=reading,
            observer=reading.observer,
            measured_on=reading.read_on,
            **fields,
        )
        return record_create(record=made, user=user, reason=f"{reading.level} measured")
    live = Measurement.objects.live().filter(pk=number, reading=reading)
    found: Measurement | None = live.first()
    if found is None:
        raise ValidationError("This measurement is gone. Load the page again.")
    return part_change(
        part=found,
        expected_version=version,
        user=user,
        reason=f"Measurement of {reading.level} changed",
        fields=fields,
    )


def _neighbour_write(reading: Reading, level: str, given: Mapping[str, Any], user: User) -> None:
    """Write the heights of a neighbour: a reading of its own, of the same study and observer."""
    if level not in (above(reading.level), below(reading.level)):
        raise ValidationError(f"{level} is no neighbour of {reading.level}.")
    if given.get("id") is None:
        there = Reading.objects.live().filter(
            study=reading.study, level=level, observer=reading.observer, read_on=reading.read_on
        )
        at_level = there.first() or record_create(
            record=Reading(
                study=reading.study,
                level=level,
                observer=reading.observer,
                read_on=reading.read_on,
            ),
            user=user,
            reason=f"{level} measured beside {reading.level}",
        )
    else:
        row = Measurement.objects.live().select_related("reading").filter(pk=given["id"]).first()
        if row is None or (row.reading.study_id, row.reading.level) != (reading.study_id, level):
            raise ValidationError("This measurement is gone. Load the page again.")
        at_level = row.reading
    measurement_write(reading=at_level, user=user, given=given)


def _refuse_foreign_fracture(study: Study, level: str, findings: Mapping[str, Any]) -> None:
    fracture = findings.get("fracture")
    if fracture is not None and (
        fracture.patient_id != study.patient_id or fracture.level != level
    ):
        raise ValidationError({"fracture": "Choose a fracture of this patient at this level."})
