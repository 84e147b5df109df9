"""Undoing an import: what it made is voided, what it changed gets its former values back.

What somebody changed since, or attached something to, is left and listed. The undoing
is a change like any other: with a name, a reason and a history of its own.
"""

from collections.abc import Mapping
from typing import Any, Final

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.db.models import F, Field, Model
from django.utils import timezone

from register.history import acting
from register.models import FileImport, Review, Score, User
from register.selectors.import_provenance import UNDONE
from register.selectors.import_undo import Key, UndoPlan, undo_plan
from register.services.import_confirm import ImportRefused
from register.services.import_writing import BATCH

LONGEST_REASON: Final = 200


class UndoOutdated(Exception):
    """What the undo would do is not what was shown; nothing was done. `plan` is the new one."""

    def __init__(self, plan: UndoPlan) -> None:
        super().__init__(
            "The register changed since this page was shown, so nothing was undone. "
            "Look at the list again and confirm what you see now."
        )
        self.plan = plan


def import_undo(*, kept: FileImport, user: User, reason: str, seen: str) -> FileImport:
    """Undo a confirmed import, all that can be undone or nothing.

    `seen` is the seal of the plan that the person was shown. Raises ImportRefused,
    UndoOutdated, ValidationError without a reason.
    """
    reason = reason.strip()
    if not reason or len(reason) > LONGEST_REASON:
        raise ValidationError(
            {"reason": f"Say why the import is undone, in at most {LONGEST_REASON} letters."}
        )
    why = f"{UNDONE}{kept.pk}: {reason}"
    try:
        with acting(user, why):
            kept = FileImport.objects.select_for_update().get(pk=kept.pk, voided_at=None)
            undo_refuse(kept)
            plan = undo_plan(kept)
            if plan.seal != seen:
                raise UndoOutdated(plan)
            if not plan.does_something:
                raise ImportRefused("Every row of this import is left, so nothing is undone.")
            _raise_contacts(plan)
            versions = _locked(plan)
            if undo_plan(kept).seal != seen:  # somebody was faster than the lock
                raise UndoOutdated(undo_plan(kept))
            _void(plan, why)
            _restore(plan, versions)
            _note(kept, plan, user)
    except IntegrityError as error:
        raise ImportRefused(
            "A former value is taken by another record now. Nothing was undone: correct the "
            "rows on the patients' records."
        ) from error
    return kept


def undo_refuse(kept: FileImport) -> None:
    """Raise ImportRefused when an import cannot be undone at all."""
    if kept.confirmed_at is None:
        raise ImportRefused("This file was never confirmed, so there is nothing to undo.")
    if kept.undone_at is not None:
        raise ImportRefused("This import was undone already.")
    if kept.transaction_id is None:
        raise ImportRefused(
            "This import was confirmed before the register kept what a file wrote. Correct its "
            "rows on the patients' records."
        )


def _locked(plan: UndoPlan) -> dict[Key, int]:
    """Lock all rows that are to be written and return the version of each."""
    keys = [*plan.voided, *(row.key for row in plan.restored)]
    versions: dict[Key, int] = {}
    for model, numbers in _by_model(keys).items():
        rows = _model(model)._base_manager.filter(pk__in=numbers).order_by("pk")
        for number, version in rows.select_for_update().values_list("pk", "version"):
            versions[model, number] = version
    return versions


def _raise_contacts(plan: UndoPlan) -> None:
    """Make each contact whose scores go or come back another version: its page knows no other.

    Before the scores, as on the page; contacts that are written themselves are left out.
    """
    keys = _by_model([*plan.voided, *(row.key for row in plan.restored)])
    whose = Score._base_manager.filter(pk__in=keys.get("score", ()))
    contacts = Review._base_manager.filter(pk__in=whose.values("review"))
    contacts.exclude(pk__in=keys.get("review", ())).update(version=F("version") + 1)


def _void(plan: UndoPlan, why: str) -> None:
    now = timezone.now()
    for model, numbers in _by_model(plan.voided).items():
        for start in range(0, len(numbers), BATCH):
            rows = _model(model)._base_manager.filter(pk__in=numbers[start : start + BATCH])
            rows.update(voided_at=now, void_reason=why[:300], version=F("version") + 1)


def _restore(plan: UndoPlan, versions: Mapping[Key, int]) -> None:
    for row in plan.restored:
        model, number = row.key
        kind = _model(model)
        values = {_field(kind, name).name: _stored(kind, name, v) for name, v in row.values.items()}
        rows = kind._base_manager.filter(pk=number, version=versions[row.key])
        rows.update(**values, version=F("version") + 1)


def _stored(kind: type[Model], name: str, value: Any) -> Any:
    """Return a value of the history as the model holds it."""
    return _field(kind, name).to_python(value)


def _field(kind: type[Model], column: str) -> Field:
    found = next(field for field in kind._meta.concrete_fields if field.column == column)
    assert isinstance(found, Field)
    return found


def _note(kept: FileImport, plan: UndoPlan, user: User) -> None:
    """Note who undid it, when, and which rows were left with the reason; no names of patients."""
    kept.undone_by, kept.undone_at = user, timezone.now()
    kept.left_by_undo = [[model, number, why] for (model, number), why in plan.left.items()]
    kept.version += 1
    kept.full_clean(exclude=["content"])
    kept.save(update_fields=["undone_by", "undone_at", "left_by_undo", "version"])


def _by_model(keys: list[Key]) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for model, number in keys:
        found.setdefault(model, []).append(number)
    return found


def _model(name: str) -> Any:
    return apps.get_model("register", name)
