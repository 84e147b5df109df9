"""Marks on a picture become a reading and its measurements, all or nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.utils.timezone import localdate

from register.domain.levels import order
from register.domain.measuring.calibration import spacing_for
from register.domain.measuring.error import PointError, Value, point_error
from register.domain.measuring.lateral import doubts
from register.domain.measuring.measure import Measured, measure
from register.domain.measuring.points import Marks
from register.domain.measuring.shape import Shape, outlines_of_marks
from register.history import acting, because
from register.models import ImageFrame, Marking, Measurement, Reading, Study, User
from register.selectors.images import spacing_of_frame
from register.selectors.imaging import fractured_levels
from register.selectors.measurement_error import with_own_error
from register.selectors.patients import fractures_at
from register.selectors.protocols import values_in_force
from register.services.records import part_change, record_change, record_create, record_void

# What of a view's numbers is kept, by the field that keeps it.
OF_MEASUREMENT: Final[dict[str, tuple[str, ...]]] = {
    "lateral": (
        "anterior_height_mm", "middle_height_mm", "posterior_height_mm", "depth_mm",
        "vertebral_angle_deg", "local_angle_deg", "segmental_angle_deg", "regional_angle_deg",
        "tilt_angle_deg",
    ),
    "frontal": ("left_height_mm", "right_height_mm", "width_mm"),
    "axial": (),
    "needles": (),
}  # fmt: skip
OF_READING: Final = {
    "retropulsion_mm": ("retropulsion_mm", Decimal("0.1")),
    "canal_encroachment_percent": ("canal_percent", Decimal(1)),
    "pedicle_left_width_mm": ("pedicle_width_left_mm", Decimal("0.1")),
    "pedicle_right_width_mm": ("pedicle_width_right_mm", Decimal("0.1")),
}
_TENTH: Final = Decimal("0.1")


@dataclass(frozen=True, slots=True)
class Sent:
    """What the page of a picture sends: the marks, read and as they stand, and how it was made."""

    marks: Marks
    stored: Mapping[str, Any]
    mirrored: bool
    posture: str


def error_of_a_mark(study: Study) -> PointError:
    """Return by how much a mark is taken to miss its place: the own figure, or the protocol's."""
    site, today = study.patient.site, localdate()
    agreed = values_in_force(site=site, on=today)
    return point_error(with_own_error(agreed, site=site, until=today))


def marking_record(
    *,
    frame: ImageFrame,
    level: str,
    view: str,
    sent: Sent,
    user: User,
    repeats: Marking | None = None,
) -> Marking:
    """Write new marks, the reading they belong to, and what they measure.

    Raises ValidationError when the marks contradict themselves, when the numbering of the
    study was not confirmed, or for a second reading on the day of the first one.
    """
    study = frame.series.study
    _refuse(study, sent)
    with acting(user, f"{level} marked"):
        reading = _reading_for(study, level, user, repeats)
        made = Marking(
            reading=reading, frame=frame, observer=user, marked_on=localdate(), view=view,
            marks=dict(sent.stored), mirrored=sent.mirrored, repeats=repeats,
        )  # fmt: skip
        error = error_of_a_mark(study)
        made.point_error_mm = Decimal(str(error.sd_mm)).quantize(Decimal("0.001"))
        record_create(record=made, user=user, reason=f"{level} marked")
        _measurements_write(made, sent, error, user)
    return made


def marking_change(
    *, marking: Marking, expected_version: int, sent: Sent, user: User, why: str = ""
) -> Marking:
    """Change marks, and with them all that was measured. Raises ValidationError, EditConflict."""
    study = marking.reading.study
    _refuse(study, sent)
    error = error_of_a_mark(study)
    with acting(user, because(f"Marks of {marking.reading.level} changed", why)):
        record_change(
            record=marking,
            expected_version=expected_version,
            user=user,
            reason=because(f"Marks of {marking.reading.level} changed", why),
            fields={
                "marks": dict(sent.stored),
                "mirrored": sent.mirrored,
                "point_error_mm": Decimal(str(error.sd_mm)).quantize(Decimal("0.001")),
            },
        )
        _measurements_write(marking, sent, error, user)
    return marking


def _refuse(study: Study, sent: Sent) -> None:
    if study.numbering_confirmed_at is None:
        raise ValidationError("Confirm first how the levels of this study were counted.")
    if told := doubts(sent.marks):
        raise ValidationError({"marks": list(told)})


def why_not_again(first: Marking, user: User) -> str:
    """Return why a reader may not read marks again today; '' when nothing is against it."""
    today = localdate()
    there = Reading.objects.live().filter(
        study=first.reading.study_id, level=first.reading.level, observer=user, read_on=today
    )
    own_today = first.observer_id == user.pk and first.marked_on == today
    if own_today or there.exists():
        return (
            "You read this level of this study today. Read it again on another day, so that "
            "the first reading is not remembered."
        )
    return ""


def _reading_for(study: Study, level: str, user: User, repeats: Marking | None) -> Reading:
    """Return the reading that new marks belong to: one's own newest, or a new one of today."""
    today = localdate()
    own = Reading.objects.live().filter(study=study, level=level, observer=user)
    if repeats is None:
        there = own.order_by("-read_on", "-pk").first()
        if there is not None:
            return there
    elif words := why_not_again(repeats, user):
        raise ValidationError(words)
    made = Reading(
        study=study, level=level, observer=user, read_on=today,
        fracture=fractures_at(study.patient, level).first(),
    )  # fmt: skip
    return record_create(record=made, user=user, reason=f"{level} read")


def _measurements_write(marking: Marking, sent: Sent, error: PointError, user: User) -> None:
    """Write what the marks measure at each level, and set aside what they measure no more."""
    spacing = spacing_of_frame(marking.frame)
    study = marking.reading.study
    found = measure(sent.marks, spacing, error.sd_mm, not_intact=fractured_levels(study.patient))
    basis = spacing_for(sent.marks, spacing).basis
    shapes = outlines_of_marks(sent.marks, spacing)
    for level in sorted(found, key=order):
        if marking.view == "needles":
            continue
        fields = _fields(marking, found[level], shapes.get(level), sent.posture, basis)
        reading = _reading_at(marking, level, user)
        if marking.view == "axial":
            _finding_write(reading, found[level], user)
        elif fields is not None:
            _measurement_write(marking, reading, fields, user)
    kept = Measurement.objects.live().filter(marking=marking)
    for gone in kept.exclude(reading__level__in=list(found)):
        reason = "No longer marked on this picture"
        record_void(record=gone, expected_version=gone.version, user=user, reason=reason)


def _fields(
    marking: Marking, found: Measured, shape: Shape | None, posture: str, basis: str
) -> dict[str, Any] | None:
    """Return the fields of a measurement; None when nothing of it was measured."""
    names = OF_MEASUREMENT[marking.view]
    values = {name: found.values.get(name, Value(None)) for name in names}
    if all(value.value is None for value in values.values()):
        return None
    lines = [f"{name.partition('_')[0]}: {words}" for name, words in found.end_plates.items()]
    return {
        **{name: _tenths(value.value) for name, value in values.items()},
        **({"outline": shape, "angle_end_plates": "; ".join(lines)[:400]} if names[4:] else {}),
        "plus_minus": {
            name: str(_tenths(value.error))
            for name, value in values.items()
            if value.value is not None and value.error is not None
        },
        "method": "marked",
        "posture": posture,
        "calibration": basis,
    }


def _tenths(value: float | None) -> Decimal | None:
    return None if value is None else Decimal(str(value)).quantize(_TENTH)


def _reading_at(marking: Marking, level: str, user: User) -> Reading:
    """Return the observer's reading of a level that was marked beside the level of interest."""
    own = marking.reading
    if level == own.level:
        return own
    there = Reading.objects.live().filter(
        study=own.study, level=level, observer=marking.observer, read_on=own.read_on
    )
    return there.first() or record_create(
        record=Reading(
            study=own.study,
            level=level,
            observer=marking.observer,
            read_on=own.read_on,
            fracture=fractures_at(own.study.patient, level).first(),
        ),
        user=user,
        reason=f"{level} measured beside {own.level}",
    )


def _measurement_write(
    marking: Marking, reading: Reading, fields: dict[str, Any], user: User
) -> None:
    """Make or change the measurement that holds the numbers of these marks.

    Numbers from the front and from the side of one reading stand in one measurement, so
    both must come from the same posture and scale.
    """
    live = Measurement.objects.live().filter(reading=reading, method="marked")
    there = live.filter(marking=marking).first() or live.order_by("-measured_on", "-pk").first()
    if there is None:
        made = Measurement(
            reading=reading, observer=marking.observer, measured_on=marking.marked_on,
            marking=marking, **fields,
        )  # fmt: skip
        record_create(record=made, user=user, reason=f"{reading.level} measured")
        return
    if there.marking_id != marking.pk:
        _refuse_mixture(there, fields)
    others = {k: v for k, v in there.plus_minus.items() if k not in OF_MEASUREMENT[marking.view]}
    fields = fields | {"plus_minus": others | fields["plus_minus"]}
    if marking.view == "lateral":
        fields = fields | {"marking": marking}
    part_change(
        part=there,
        expected_version=there.version,
        user=user,
        reason=f"Measurement of {reading.level} changed",
        fields=fields,
    )


def _refuse_mixture(there: Measurement, fields: Mapping[str, Any]) -> None:
    for name, words in (("posture", "posture"), ("calibration", "scale")):
        if getattr(there, name) and fields[name] and getattr(there, name) != fields[name]:
            raise ValidationError(
                f"This reading has numbers of another {words} already. "
                "Mark this picture in a reading of another day, or correct the "
                f"{words} of the first."
            )


def _finding_write(reading: Reading, found: Measured, user: User) -> None:
    """Put what was marked on a slice into the findings of the reading."""
    fields: dict[str, Any] = {}
    for name, (column, step) in OF_READING.items():
        value = found.values.get(name, Value(None)).value
        if value is not None:
            fields[column] = max(Decimal(str(value)).quantize(step), Decimal(0))
    if not fields:
        return
    absent = {name: why for name, why in reading.absent.items() if name not in fields}
    record_change(
        record=reading,
        expected_version=reading.version,
        user=user,
        reason=f"{reading.level} measured on a slice",
        fields=fields | {"absent": absent},
    )
