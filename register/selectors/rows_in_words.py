"""One row of a patient in words, for lists of what is moved."""

from collections import Counter
from collections.abc import Iterable
from typing import Any

from register.domain.days import day_words, known_words
from register.models import (
    BoneDensity,
    CementUse,
    Complication,
    Fracture,
    LaboratoryResult,
    Leak,
    Patient,
    PatientPhone,
    Procedure,
    Referral,
    Review,
    Task,
    TreatedLevel,
)


def row_words(row: Any) -> str:
    """Return "L1 fracture, began 14 Feb 2027": what the row is, and what tells it from another."""
    match row:
        case Referral():
            words = f"Referral of {day_words(row.referred_on)}"
        case Fracture():
            began = known_words(row.onset_on, row.onset_precision)
            words = f"{row.level} fracture, {'onset' if row.onset_on is None else 'began'} {began}"
        case Review():
            words = f"Follow-up contact {_contact(row)}"
        case LaboratoryResult():
            name = row.get_analyte_display().partition(",")[0]
            unit = "" if row.unit == "ratio" else f" {row.unit}"
            value = f"{name} {row.value.normalize():f}{unit}"
            words = f"{value}, {day_words(row.taken_on)}"
        case BoneDensity():
            words = f"Bone density of {day_words(row.measured_on)}"
        case Task():
            words = f"Task: {row.title}"
        case PatientPhone():
            words = f"Telephone {row.number}"
        case Procedure() | TreatedLevel() | CementUse() | Leak() | Complication():
            words = _done(row)
        case Patient():
            words = "The patient's details"
        case _:
            words = str(row)
    words = words[:1].upper() + words[1:]
    return f"{words} (set aside)" if getattr(row, "voided_at", None) else words


def _done(row: Procedure | TreatedLevel | CementUse | Leak | Complication) -> str:
    """Return "Cement, 4.5 mL": a procedure or what belongs to one."""
    match row:
        case Procedure():
            return f"{row.technique}, {day_words(row.performed_on)}"
        case TreatedLevel():
            return f"Treatment of {row}"
        case CementUse():
            return f"Cement, {row}"
        case Leak():
            return f"Leak, {row.get_place_display() or 'place not recorded'}"
    return f"{row}, {day_words(row.occurred_on)}"


def _contact(review: Review) -> str:
    """Say which contact it is; the codes of contacts are made of words: weeks_2_4, before."""
    unit, *numbers = review.timepoint.split("_")
    name = f"{' to '.join(numbers)} {unit}" if numbers else unit
    if review.held_on is None:
        return f"“{name}”, due {day_words(review.target_on)}"
    return f"“{name}”, held {day_words(review.held_on)}"


def counted(number: int, one: str, many: str = "") -> str:
    """Return "1 study", "2 studies"."""
    if number == 1:
        return f"1 {one}"
    return f"{number} {many or (one[:-1] + 'ies' if one.endswith('y') else one + 's')}"


def parts_words(models: Iterable[Any]) -> str:
    """Return "2 readings, 1 measurement" for the tables of some rows; '' for none."""
    counts = Counter(str(model._meta.verbose_name) for model in models)
    return ", ".join(counted(number, name) for name, number in counts.items())
