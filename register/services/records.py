"""Writing one row: made, changed, or set aside. Every noun's service builds on these three."""

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.utils import timezone

from register.history import acting
from register.models import User
from register.models.base import Record
from register.services.editing import EditConflict, update_row

Row = TypeVar("Row", bound=Record)


class PartConflict(Exception):
    """A part of the record was changed by somebody else meanwhile; nothing at all was saved."""

    def __init__(self, part: Record, error: EditConflict) -> None:
        super().__init__(str(error))
        self.part, self.error = part, error


def record_create(*, record: Row, user: User, reason: str) -> Row:
    """Save a new row. Raises ValidationError before anything is written."""
    with acting(user, reason):
        record.full_clean()
        record.save()
    return record


def record_change(
    *, record: Row, expected_version: int, user: User, reason: str, fields: Mapping[str, Any]
) -> Row:
    """Set and save the named fields. Raises ValidationError, or EditConflict with both values."""
    with acting(user, reason):
        for name, value in fields.items():
            setattr(record, name, value)
        update_row(record, expected_version=expected_version, fields=list(fields))
    return record


def part_change(
    *, part: Row, expected_version: int, user: User, reason: str, fields: Mapping[str, Any]
) -> Row:
    """Change a part of a larger record. Raises ValidationError, or PartConflict naming the part."""
    try:
        return record_change(
            record=part,
            expected_version=expected_version,
            user=user,
            reason=reason,
            fields=fields,
        )
    except EditConflict as error:
        raise PartConflict(part, error) from error


def record_void(*, record: Record, expected_version: int, user: User, reason: str) -> None:
    """Set a row aside; it stays readable in the history. Raises ValidationError without reason."""
    if not reason.strip():
        raise ValidationError("Say why this entry is set aside.")
    record_change(
        record=record,
        expected_version=expected_version,
        user=user,
        reason=reason,
        fields={"voided_at": timezone.now(), "void_reason": reason.strip()},
    )


def rows_write(
    *, kind: type[Row], owner: Mapping[str, Any], rows: Iterable[Mapping[str, Any]], user: User
) -> list[Row]:
    """Write the rows of a list that belongs to one record, as a form holds them.

    `owner` are the fields that tie a row to its record. A row with `id` and
    `version` is changed, with `remove` it is set aside, any other is new. A row
    of another record is refused. Raises ValidationError, PartConflict.
    """
    reason = f"{str(kind._meta.verbose_name).capitalize()} of the list"
    written = []
    for given in rows:
        fields = dict(given)
        number, version = fields.pop("id", None), fields.pop("version", None) or 0
        remove = fields.pop("remove", False)
        if number is None:
            record = kind(**owner, **fields)
            written.append(record_create(record=record, user=user, reason=reason))
            continue
        row = kind._base_manager.filter(pk=number, voided_at=None, **owner).first()
        if row is None:
            raise ValidationError("A line of the list is gone. Load the page again.")
        if remove:
            reason = "Removed from the list"
            fields = {"voided_at": timezone.now(), "void_reason": reason}
        part_change(part=row, expected_version=version, user=user, reason=reason, fields=fields)
        if not remove:
            written.append(row)
    return written
