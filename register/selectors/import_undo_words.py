"""The rows of an undo in words: whose each is, what becomes of it, and why one is left."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

from django.apps import apps

from register.domain.nhs_number import formatted
from register.models import FileImport, Patient
from register.selectors.import_undo import Key, UndoPlan, former_words
from register.selectors.rows_in_words import row_words

LINE_KINDS: Final = (
    ("voided", "set aside"),
    ("restored", "get former values back"),
    ("left", "left as they are"),
)
# The way from a record to its patient; a record not named here has `patient` itself.
_WAY: Final = {
    "patient": (),
    "referraldrug": ("referral", "patient"),
    "treatedlevel": ("procedure", "patient"),
    "complication": ("procedure", "patient"),
    "cementuse": ("level", "procedure", "patient"),
    "leak": ("level", "procedure", "patient"),
    "score": ("review", "patient"),
}


@dataclass(frozen=True, slots=True)
class UndoLine:
    """One row. `patient_id` is None for a record without a patient's page."""

    who: str
    patient_id: int | None
    what: str
    becomes: str


def undo_lines(keys: Iterable[Key], plan: UndoPlan) -> list[UndoLine]:
    """Return the lines of some rows, in order; one query for each kind of record."""
    keys = list(keys)
    by_model: dict[str, list[int]] = defaultdict(list)
    for model, number in keys:
        by_model[model].append(number)
    rows: dict[Key, Any] = {}
    for model, numbers in by_model.items():
        for row in _rows(model, numbers):
            rows[model, row.pk] = row
    former = {restored.key: restored for restored in plan.restored}
    return [_line(key, rows[key], plan, former.get(key)) for key in keys if key in rows]


def left_lines(kept: FileImport) -> list[UndoLine]:
    """Return the rows that the undoing of an import left, with the reasons noted then."""
    left = {(str(model), int(number)): str(why) for model, number, why in kept.left_by_undo}
    return undo_lines(left, UndoPlan(left=left))


def _rows(model: str, numbers: list[int]) -> Any:
    kind: Any = apps.get_model("register", model)
    way = _way(model)
    rows = kind._base_manager.filter(pk__in=numbers)
    if model == "treatedlevel":
        return rows.select_related("procedure__patient", "fracture")
    if model == "procedure":
        return rows.select_related("patient", "technique")
    return rows.select_related("__".join(way)) if way else rows


def _way(model: str) -> tuple[str, ...]:
    if model == "theatrelogentry":
        return ()
    return _WAY.get(model, ("patient",))


def _line(key: Key, row: Any, plan: UndoPlan, restored: Any) -> UndoLine:
    patient = row
    for name in _way(key[0]):
        patient = getattr(patient, name)
    if key in plan.left:
        becomes = plan.left[key]
    elif restored is not None:
        becomes = former_words(restored)
    else:
        becomes = ""
    is_patient = isinstance(patient, Patient)
    return UndoLine(
        who=str(patient) if is_patient else _named_in_log(row),
        patient_id=patient.pk if is_patient and patient.voided_at is None else None,
        what=row_words(row),
        becomes=becomes,
    )


def _named_in_log(row: Any) -> str:
    """Return the patient of a line of the theatre log as the log has it, names first."""
    names = ", ".join(part for part in (row.family_name.upper(), row.given_name) if part)
    number = row.hospital_number or formatted(row.nhs_number)
    return names or f"no name, number {number}"
