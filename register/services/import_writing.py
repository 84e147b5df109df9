"""Writing what a file brings: many records at once, the tables' own checks in force.

Ten thousand rows take some dozens of statements. Each value was checked cell by cell
when the file was read; each distinct value is checked once more here, field by field,
and the named constraints of the tables hold for these rows as for any other.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Final, TypeVar

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.db.models import Field, Model

from register.imports.verdicts import Edit, Verdict
from register.models.base import Record
from register.services.bulk_copy import (
    Copying,
    comparable,
    refused_place,
    rows_numbered,
    rows_ready,
)
from register.services.bulk_edit import rows_edit

BATCH: Final = 1000
Numbered = tuple[int, Any]  # row number of the file, record
Row = TypeVar("Row")
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
        self._checked: dict[tuple[type[Model], str], set[Hashable]] = defaultdict(set)

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
        edits = self._edits_by_kind()
        done, total = 0, sum(map(len, self._new.values())) + len(self._edits)
        self._tell(done, total)
        for kind, of_kind in edits.items():
            for batch in _batches(of_kind):
                if not rows_edit(kind, batch):
                    raise RowMoved
                done += len(batch)
                self._tell(done, total)
        for kind, records in self._new.items():
            rows_numbered(kind, [record for _, record in records])
        with Copying() as copying:
            for written in self._sent(copying):
                done += len(written)
                self._tell(done, total)

    def _sent(self, copying: Copying) -> Iterator[Sequence[Numbered]]:
        """Send the new rows; yield each batch once it is written and before the next is sent."""
        before: Sequence[Numbered] = ()
        for kind, records in self._new.items():
            fields = _fields(kind)
            for batch in _batches(records):
                for field in fields:
                    self._check(field, batch)
                ready = rows_ready(kind, [record for _, record in batch])
                with _named(before):
                    copying.wait()
                if before:
                    yield before
                copying.send(ready)
                before = batch
        with _named(before):
            copying.wait()
        yield before

    def _edits_by_kind(self) -> dict[type[Record], list[Edit]]:
        """Return the edits, checked, by the kind of row that they change."""
        found: dict[type[Record], list[Edit]] = defaultdict(list)
        for number, edit in self._edits:
            kind = apps.get_model("register", edit.model)
            record = kind(**edit.values)
            for field in _fields(kind):
                if field.name in edit.values:
                    self._check(field, [(number, record)])
            found[kind].append(edit)
        return found

    def _check(self, field: Field, records: Iterable[Numbered]) -> None:
        """Check a field of some records; a value that was right once is right again."""
        known = self._checked[field.model, field.attname]
        last: object = known  # no value is this
        for number, record in records:
            value = record.__dict__[field.attname]
            if value is last or (field.blank and value in _EMPTY):
                continue
            last, key = value, comparable(value)
            if key in known:
                continue
            try:
                field.clean(value, record)
            except ValidationError as error:
                raise ValidationError(f"Row {number}: {' '.join(error.messages)}") from error
            known.add(key)

    def _tell(self, done: int, total: int) -> None:
        if self._say:
            self._say(done, total)


_EMPTY: Final[tuple[Any, ...]] = (None, "", [], {})
_OWN: Final = ("created_at", "version", "voided_at", "void_reason")


def _fields(kind: type[Record]) -> list[Field]:
    """Return the fields that a file may fill."""
    return [
        field
        for field in kind._meta.concrete_fields
        if not (field.primary_key or field.is_relation or field.name in _OWN)
    ]


def _batches(rows: Sequence[Row]) -> Iterator[Sequence[Row]]:
    for start in range(0, len(rows), BATCH):
        yield rows[start : start + BATCH]


@contextmanager
def _named(numbered: Sequence[Numbered]) -> Iterator[None]:
    """Where a table's own check refuses one of these records, say which row of the file."""
    try:
        yield
    except IntegrityError as error:
        place, words = refused_place(error), refusal_words(error)
        if place is None or not words:
            raise
        raise ValidationError(f"Row {numbered[place][0]}: {words}") from error


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
