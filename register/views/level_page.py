"""The forms and the drawing of one level of one study, put together for the page."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.forms import BoundField
from django.utils.timezone import localdate

from register.domain.drawing.closeup import Closeup
from register.domain.drawing.vertebra import NOT_MEASURED, Body
from register.domain.levels import above, below, order
from register.domain.measures import Heights as MeasuredHeights
from register.domain.measures import Reference, height_loss, reference_heights
from register.domain.outline import Heights
from register.forms.imaging import DrawnForm, MeasuredForm, MeasurementForm, ReadingForm
from register.models import Measurement, Reading, Study, User
from register.selectors import imaging as seen_in
from register.selectors.measurement_error import with_own_error
from register.selectors.patients import fractures_at
from register.selectors.protocols import values_in_force
from register.services.imaging import HEIGHTS
from register.templatetags.drawings import heights_of

Typed = Mapping[str, Any] | None
PLACE_WORDS = {"anterior": "at the front", "middle": "in the middle", "posterior": "at the back"}


@dataclass(frozen=True, slots=True)
class GridRow:
    """One line of the table of heights: a box for each level, the level itself marked."""

    name: str
    boxes: tuple[BoundField, ...]


@dataclass(frozen=True, slots=True)
class LevelForms:
    """Everything that is typed on the page of a level."""

    reading: ReadingForm
    here: MeasurementForm
    near: dict[str, MeasuredForm]

    def are_valid(self) -> bool:
        """Check every part, so that all errors are told at once."""
        return all([form.is_valid() for form in (self.reading, *self.measured)])

    @property
    def measured(self) -> list[MeasuredForm]:
        """The forms with heights, in the order of the levels."""
        return sorted([self.here, *self.near.values()], key=lambda form: order(form.level))

    @property
    def grid(self) -> list[GridRow]:
        """The table of heights: a line for each length, a column for each level."""
        names = [str(self.here.base_fields[name].label) for name in HEIGHTS]
        lines = zip(*(form.boxes for form in self.measured), strict=True)
        return [GridRow(name, boxes) for name, boxes in zip(names, lines, strict=True)]

    @property
    def findings(self) -> dict[str, Any]:
        """The fields of the reading."""
        return self.reading.values()

    @property
    def measurement(self) -> dict[str, Any] | None:
        """The measurement of the level; None when there is nothing to write."""
        return self.here.values() if self.here.has_values() else None

    @property
    def neighbours(self) -> dict[str, dict[str, Any]]:
        """The neighbours that were measured, by level; measured the way the level was."""
        how = {name: self.here.cleaned_data[name] for name in ("method", "posture", "calibration")}
        return {
            level: form.values() | (how if form.instance.pk is None else {})
            for level, form in self.near.items()
            if form.has_values() and (form.instance.pk is None or form.has_changed())
        }


@dataclass(frozen=True, slots=True)
class Shown:
    """The drawing and what the heights say."""

    closeup: Closeup
    loss_words: str


def forms_of(
    study: Study, level: str, reading: Reading | None, user: User, typed: Typed
) -> LevelForms:
    """Return the forms of a level, with what is recorded or what was typed."""
    fractures = fractures_at(study.patient, level)
    new = Reading(
        study=study, level=level, observer=user, read_on=localdate(), fracture=fractures.first()
    )
    own = seen_in.own_measurement(reading) if reading else None
    observer = reading.observer if reading else user
    return LevelForms(
        reading=ReadingForm(
            typed,
            instance=reading or new,
            observers=seen_in.observers(study.patient.site),
            fractures=fractures,
        ),
        here=MeasurementForm(
            typed, prefix="here", level=level, instance=own or Measurement(posture=study.posture)
        ),
        near={
            near: MeasuredForm(
                typed,
                prefix=near.lower(),
                level=near,
                instance=seen_in.measurement_by(study, near, observer),
            )
            for near in seen_in.neighbours(level)
        },
    )


def shown_of(study: Study, level: str, typed: Typed, gave_way: str) -> Shown:
    """Return the drawing of what is recorded, or of what is in the boxes now."""
    levels = [level, *seen_in.neighbours(level)]
    if typed is None:
        recorded = seen_in.levels_seen(study)
        heights = {
            at: heights_of(recorded[at].measurement) if at in recorded else NOT_MEASURED
            for at in levels
        }
    else:
        heights = {
            at: DrawnForm(typed, prefix="here" if at == level else at.lower(), level=at).heights()
            for at in levels
        }
    return _drawn(study, level, heights, gave_way)


def _drawn(study: Study, level: str, heights: dict[str, Heights], gave_way: str) -> Shown:
    fractured = seen_in.fractured_levels(study.patient)
    measured = {at: _three(lengths) for at, lengths in heights.items() if lengths.any_height}
    reference = reference_heights(level, measured, fractured)
    site, today = study.patient.site, localdate()
    values = with_own_error(values_in_force(site=site, on=today), site=site, until=today)
    bodies = {
        at: Body(at, lengths, gave_way if at == level else "", _state(at, fractured))
        for at, lengths in heights.items()
    }
    return Shown(
        Closeup(
            body=bodies[level],
            above=bodies.get(above(level) or ""),
            below=bodies.get(below(level) or ""),
            error_mm=values.number("measures.height_error_mm"),
            expected=_drawable(reference.heights) if reference else None,
            expected_from=" and ".join(reference.levels) if reference else "",
        ),
        _loss_words(level, measured.get(level), reference),
    )


def _state(level: str, fractured: set[str]) -> str:
    return "fracture" if level in fractured else ""


def _three(lengths: Heights) -> MeasuredHeights:
    return MeasuredHeights(
        *(
            None if value is None else Decimal(value)
            for value in (lengths.anterior_mm, lengths.middle_mm, lengths.posterior_mm)
        )
    )


def _drawable(heights: MeasuredHeights) -> Heights:
    return Heights(heights.anterior, heights.middle, heights.posterior)


def _loss_words(level: str, here: MeasuredHeights | None, reference: Reference | None) -> str:
    loss = height_loss(here, reference.heights) if here and reference else None
    if loss is None or reference is None:
        near = " or ".join(seen_in.neighbours(level))
        return f"Height lost: needs the heights of {level} and of {near}, where that is intact."
    share = loss.percent.quantize(Decimal(1))
    place = PLACE_WORDS[loss.place]
    return (
        f"Height lost {place}: {share} % ({loss.shape}), compared with "
        f"{' and '.join(reference.levels)}."
    )
