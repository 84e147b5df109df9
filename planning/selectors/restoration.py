"""Height regained by a treatment, in the words and tables of the record."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from planning.evidence import Evidence
from planning.heights import MeasuredLevel
from planning.restoration import Comparison, Regained, comparisons, treated_on_days
from register.domain.comparing import WHY_NOT
from register.domain.days import day_words
from register.domain.measures import change_words, within_height_error
from register.domain.protocol import ProtocolValues
from register.domain.vocabulary import CALIBRATION, POSTURE, words_for
from register.selectors.circumstances import circumstances_of
from register.selectors.measurement_error import with_own_error
from register.tables import Column, Table

NOT_DEFINED = "not defined"
_COLUMNS = (
    Column("Height"),
    Column("Before", "mm", figures=True),
    Column("After", "mm", figures=True),
    Column("Reference", "mm", figures=True),
    Column("Gained", "mm", figures=True),
    Column("Of the height before", "%", figures=True),
    Column("Of the height lost", "%", figures=True),
    Column("Of the reference", "%", figures=True),
    Column("Change"),
)


@dataclass(frozen=True, slots=True)
class RestorationView:
    """One examination after a treatment. `table` is None, and `refused` says why, where a
    difference would compare postures, scales or nothing.
    """

    after: str
    before: str
    refused: str
    table: Table | None
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RestorationPart:
    """The part of the record: every examination after a treatment, and the bound with source."""

    views: tuple[RestorationView, ...]
    bound: str


def restoration_part(
    evidence: Evidence, values: ProtocolValues, *, on: date
) -> RestorationPart | None:
    """Return what the record says of a treated fracture; None for one never treated.

    One query without a treatment, two with.
    """
    days = treated_on_days(evidence.fracture.pk)
    if not days:
        return None
    site = evidence.fracture.patient.site
    own = with_own_error(values, site=site, until=on)
    bound = own.entry("measures.height_error_mm")
    return RestorationPart(
        views=tuple(_view(one, own) for one in comparisons(evidence, days)),
        bound=f"A change below {bound.words} is within measurement error. "
        f"Source: {bound.source.words}.",
    )


def _view(one: Comparison, values: ProtocolValues) -> RestorationView:
    rows = [_row(height, values) for height in one.heights]
    after = _image(one.after)
    before = f"Before: {_image(one.before)}." if one.before else ""
    return RestorationView(
        after=after,
        before=before,
        refused="" if rows else _refused(one),
        table=Table.of(after, _COLUMNS, rows, note=before) if rows else None,
        notes=tuple(_notes(one, values)),
    )


def _image(one: MeasuredLevel) -> str:
    how = circumstances_of(one.measurement)
    posture = words_for(POSTURE, how.posture) if how.posture else "posture not recorded"
    scale = (
        words_for(CALIBRATION, how.calibration) if how.calibration else "calibration not recorded"
    )
    return f"{day_words(one.reading.study.performed_on)}, {posture}, {scale}"


def _refused(one: Comparison) -> str:
    """Say why no restoration is given."""
    if one.before is None:
        return "No height was measured on images before the treatment: nothing to compare."
    if one.why_not:
        return f"Not comparable: {words_for(WHY_NOT, one.why_not)}. Not called restoration."
    return "No height was measured on both."


def _row(one: Regained, values: ProtocolValues) -> Sequence[object]:
    found = one.found
    return (
        one.place.capitalize(),
        one.before_mm,
        one.after_mm,
        NOT_DEFINED if one.reference_mm is None else _tenth(one.reference_mm),
        _signed(found.mm),
        _signed(found.percent_of_initial),
        _signed(found.percent_of_lost),
        _signed(found.percent_of_reference),
        _meaning(found.mm, values),
    )


def _meaning(change: Decimal, values: ProtocolValues) -> str:
    if within_height_error(change, values):
        return "within measurement error"
    return "higher" if change > 0 else "lower"


def _notes(one: Comparison, values: ProtocolValues) -> list[str]:
    notes = []
    if one.heights:
        levels = " and ".join(one.reference_from)
        notes.append(
            f"Reference: {levels} on the images before."
            if levels
            else "No intact neighbour was measured on the images before: no reference."
        )
    if one.angle_change_deg is not None:
        turned = change_words(one.angle_change_deg, "°", values)
        notes.append(f"Vertebral angle, after minus before: {turned}.")
    return notes


def _signed(value: Decimal | None) -> str:
    if value is None:
        return NOT_DEFINED
    rounded = _tenth(value)
    sign = "+" if rounded > 0 else "\N{MINUS SIGN}" if rounded < 0 else ""
    return f"{sign}{abs(rounded)}"


def _tenth(value: Decimal) -> Decimal:
    return value.quantize(Decimal("0.1"))
