"""Writing what a file brings: many records at once, the tables' own checks in force.

Ten thousand rows take some dozens of statements. Each value was checked cell by cell
when the file was read; each distinct value is checked once more here, field by field,
and the named constraints of the tables hold for these rows as for any other.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, Final

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.db.models import F, Field

from register.imports.verdicts import Edit, Verdict
from register.models.base import Record

BATCH: Final = 500
Numbered = tuple[int, Any]  # row number of the file, record
Say = Callable[[int, int], None]  # records written so far, records in all


class RowMoved(Exception):
    """A recorded row was changed in the moment between judging and writing."""


class Writer:
    """Collects the records of a file and writes them kind by kind, in the given order.

    A record may link to one that is not saved yet, if that is of an earlier kind.
    """

    def __init__(self, *kinds: type[Record], say: Say | None = None) -> None:
        self._new: dict[type[Record], list[Numbered]] = {kind: [] for kind in kinds}
        self._edits: list[tuple[int, Edit]] = []
        self._say = say
        self._checked: set[tuple[Field, Any]] = set()

    def add(self, number: int, record: Record) -> None:
        """Take a new record of a row."""
        self._new[type(record)].append((number, record))

    def take(self, verdict: Verdict) -> None:
        """Take what a verdict edits and adds."""
        self._edits += [(verdict.number, edit) for edit in verdict.edits]
        for addition in verdict.additions:
            self.add(verdict.number, apps.get_model("register", addition.model)(**addition.values))

    def write(self) -> None:
        """Write all of it. Call it inside `acting`.

        Raises ValidationError naming the row, RowMoved, or IntegrityError from a constraint.
        """
        for records in self._new.values():
            for number, record in records:
                self._check(number, record, _given(record))
        done, total = 0, sum(map(len, self._new.values())) + len(self._edits)
        for number, edit in self._edits:
            self._edit(number, edit)
            done += 1
            if done % BATCH == 0:
                self._tell(done, total)
        for kind, records in self._new.items():
            for batch in _batches(records):
                kind._base_manager.bulk_create([record for _, record in batch])
                done += len(batch)
                self._tell(done, total)

    def _edit(self, number: int, edit: Edit) -> None:
        """Update one row if nobody changed it since it was judged; its version is raised."""
        model = apps.get_model("register", edit.model)
        self._check(number, model(**edit.values), edit.values)
        rows = model._base_manager.filter(pk=edit.pk, version=edit.version)
        if not rows.update(**edit.values, version=F("version") + 1):
            raise RowMoved

    def _check(self, number: int, record: Record, names: Iterable[str]) -> None:
        """Check the named fields; a value that was right once is right again."""
        for name in names:
            field = record._meta.get_field(name)
            assert isinstance(field, Field)
            if field.is_relation:
                continue
            value = getattr(record, field.attname)
            key = (field, repr(value))
            if key in self._checked or (field.blank and value in field.empty_values):
                continue
            try:
                field.clean(value, record)
            except ValidationError as error:
                raise ValidationError(f"Row {number}: {' '.join(error.messages)}") from error
            self._checked.add(key)

    def _tell(self, done: int, total: int) -> None:
        if self._say:
            self._say(done, total)


def _given(record: Record) -> list[str]:
    """Return the fields of a new record that are not left at their default."""
    return [
        field.name
        for field in record._meta.concrete_fields
        if not field.primary_key
        and not field.is_relation
        and field.name not in _OWN
        and getattr(record, field.attname) not in (None, "", [], {})
    ]


_OWN: Final = ("created_at", "version", "voided_at", "void_reason")


def _batches(records: Sequence[Numbered]) -> Iterator[Sequence[Numbered]]:
    for start in range(0, len(records), BATCH):
        yield records[start : start + BATCH]


def refusal_words(error: IntegrityError) -> str:
    """Return what a table's own check says of the row that it refused; '' for a clash."""
    diagnosis = getattr(error.__cause__, "diag", None)
    name = getattr(diagnosis, "constraint_name", "") or ""
    for model in apps.get_models():
        for constraint in model._meta.constraints:
            if constraint.name == name and getattr(constraint, "condition", None) is not None:
                words = str(constraint.violation_error_message)
                return "" if hasattr(constraint, "fields") else words.replace("%%", "%")
    return ""
