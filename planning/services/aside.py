"""Setting a record aside that was entered by mistake, and bringing it back; both with a reason.

Nothing is deleted. A record on which live ones depend stays: the words say what has to go first.
What is only a part of it goes and comes back together with it.
"""

from collections.abc import Iterable
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.db.models import Model
from django.utils import timezone

from planning.models import ListEntry, PlannedApproach, ProcedurePlan
from planning.record_kinds import BY_CODE, BY_TABLE
from planning.services.decisions import STATE_AFTER
from planning.services.plans import decision_in_force
from register.history import acting
from register.history.kinds import Kind, listed
from register.models import (
    ImageSeries,
    Marking,
    Patient,
    Procedure,
    RecordTransfer,
    Review,
    TreatedLevel,
    User,
)
from register.models.base import Record
from register.permissions import may
from register.services.records import record_change

# What a contact is without what was recorded at it: it is due again.
NOT_HELD: Final[dict[str, Any]] = {
    "held_on": None, "mode": "", "informant": "", "informant_name": "", "recorded_by": None,
    "red_flags": [], "red_flags_told": "", "red_flags_told_at": None, "note": "",
    "absent": {}, "unusual": {},
}  # fmt: skip


def may_set_aside(user: User, kind: Kind) -> bool:
    """Whether a person may set aside and bring back records of a kind."""
    return bool(kind.right) and may(user, kind.right)


def obstacles(kind: Kind, row: Any) -> list[str]:
    """Return what stands in the way of setting a record aside, in sentences."""
    if row.voided_at is not None:
        return ["It is set aside already."]
    if isinstance(row, Review) and _is_scheduled(row) and row.held_on is None:
        return [
            "The protocol asks for this contact, so it stays on the list. Record an attempt, "
            "or how follow-up ended."
        ]
    plan = row.level.plan if isinstance(row, PlannedApproach) else row
    if isinstance(plan, ProcedurePlan) and plan.state == "approved":
        return ["The plan is approved. Take the approval back first."]
    if isinstance(row, ImageSeries) and (
        marked := Marking.objects.live().filter(frame__series=row).count()
    ):
        return [
            f"Marks were set on its pictures ({marked}). Set aside what was measured with them "
            "and the markings first."
        ]
    return _depending(kind, row)


def record_aside(*, kind: Kind, row: Any, expected_version: int, user: User, reason: str) -> None:
    """Set a record aside with its parts. Raises ValidationError, EditConflict, PartConflict.

    A contact of the protocol becomes due again instead: its scores are set aside.
    """
    _ask_reason(reason)
    if found := obstacles(kind, row):
        raise ValidationError(found)
    at, mark = timezone.now(), {"void_reason": reason.strip()}
    aside = mark | {"voided_at": at}
    takes_back = isinstance(row, Review) and _is_scheduled(row)
    parts = list(_parts(kind, row, scores_only=takes_back))
    with acting(user, reason.strip()):
        record_change(
            record=row,
            expected_version=expected_version,
            user=user,
            reason=reason.strip(),
            fields=NOT_HELD if takes_back else aside,
        )
        for part in parts:
            _change(part, user, reason.strip(), aside)
        _what_follows(row, user, reason.strip())


def record_back(*, kind: Kind, row: Any, expected_version: int, user: User, reason: str) -> None:
    """Bring back a record, with the parts that were set aside together with it.

    Raises ValidationError, also when the same was entered anew meanwhile, and EditConflict.
    """
    _ask_reason(reason)
    if row.voided_at is None:
        raise ValidationError("This entry is not set aside.")
    _refuse_without_its_place(kind, row)
    at, live = row.voided_at, {"voided_at": None, "void_reason": ""}
    parts = list(_parts(kind, row, since=at))
    with acting(user, reason.strip()):
        record_change(
            record=row,
            expected_version=expected_version,
            user=user,
            reason=reason.strip(),
            fields=live,
        )
        for part in parts:
            _change(part, user, reason.strip(), live)
        if isinstance(row, TreatedLevel) and row.procedure.state != "open":
            _change(row.fracture, user, reason.strip(), {"state": "treated"})


def _ask_reason(reason: str) -> None:
    if not reason.strip():
        raise ValidationError({"reason": "Say why."})


def _change(row: Record, user: User, reason: str, fields: dict[str, Any]) -> None:
    record_change(record=row, expected_version=row.version, user=user, reason=reason, fields=fields)


def _is_scheduled(review: Review) -> bool:
    return review.timepoint != "unscheduled"


def _parts(kind: Kind, row: Any, *, scores_only: bool = False, since: Any = None) -> Iterable[Any]:
    """Yield the parts of a record: the live ones, or those set aside at a moment."""
    codes = ("score",) if scores_only else kind.parts
    for code in codes:
        part = BY_CODE[code]
        above = part.parents[0] if part.parents else "patient"
        yield from part.model._base_manager.filter(**{above: row}, voided_at=since)
    if isinstance(row, Procedure):
        # Contacts that nobody held go with the procedure from which they are counted.
        yield from Review._base_manager.filter(procedure=row, held_on=None, voided_at=since)


def _depending(kind: Kind, row: Any) -> list[str]:
    """Return which live records hang on a record and are no part of it."""
    parts = {BY_CODE[code].model for code in kind.parts}
    told = []
    for relation in row._meta.related_objects:
        model: Any = relation.related_model
        if not issubclass(model, Record) or model.IS_BESIDE:
            continue
        if model in parts or model is RecordTransfer:
            continue
        rows = model._base_manager.filter(**{relation.field.name: row}, voided_at=None)
        if model is Review and isinstance(row, Procedure):
            rows = rows.exclude(held_on=None)
        if model is ListEntry:
            rows = rows.exclude(state="cancelled").exclude(procedure__isnull=False)
        if count := rows.count():
            told.append(_counted(model, count))
    return [f"These belong to it: {listed(told)}. Set them aside first."] if told else []


def _counted(model: type[Model], count: int) -> str:
    kind = BY_TABLE.get(model._meta.db_table)
    return kind.counted(count) if kind else f"{count} of {model._meta.verbose_name_plural}"


def _what_follows(row: Any, user: User, reason: str) -> None:
    """Put back what the record had moved on: the case on its list, the state of the fracture."""
    if isinstance(row, Procedure):
        for entry in ListEntry.objects.live().filter(procedure=row):
            _change(entry, user, reason, {"procedure": None, "state": "planned"})
    if isinstance(row, TreatedLevel) and row.fracture.state == "treated":
        done = TreatedLevel.objects.live().filter(fracture=row.fracture, procedure__voided_at=None)
        if not done.exclude(procedure__state="open").exists():
            decision = decision_in_force(row.fracture)
            state = STATE_AFTER[decision.route] if decision else "waiting"
            _change(row.fracture, user, reason, {"state": state})


def _refuse_without_its_place(kind: Kind, row: Any) -> None:
    """Refuse to bring back what would hang on a record that is set aside, or a merged record."""
    above = getattr(row, kind.parents[0] if kind.parents else "patient", None)
    if above is not None and above.voided_at is not None:
        raise ValidationError("What this entry belongs to is set aside. Bring that back first.")
    merged = RecordTransfer.objects.live().filter(kind="merge", undone_at=None)
    if isinstance(row, Patient) and merged.filter(from_patient=row).exists():
        raise ValidationError("This record was joined with another one. Undo that instead.")
