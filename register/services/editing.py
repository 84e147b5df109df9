"""Changing a row without overwriting what somebody else saved in the meantime."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import F

from register.history.reading import Change, changes_of_row
from register.models.base import Record


class EditConflict(Exception):
    """The row was changed after this person had opened it; nothing was saved.

    `theirs` and `yours` hold the values of the edited fields: what stands in the
    register now, and what was about to be saved; `before` what the person had read, empty
    when the history does not know; `overtaken_at` the moment until which that stood.
    `version` is the one to send when
    the person decides again. `changed_by` and `changed_at` tell of the last change.
    """

    def __init__(
        self,
        *,
        theirs: dict[str, Any],
        yours: dict[str, Any],
        version: int,
        changed_by: str,
        changed_at: datetime | None,
        before: dict[str, Any] | None = None,
        overtaken_at: datetime | None = None,
    ) -> None:
        super().__init__(
            "Somebody else changed this entry while you had it open. "
            "Nothing was saved: compare both versions and save again."
        )
        self.theirs, self.yours, self.version = theirs, yours, version
        self.changed_by, self.changed_at = changed_by, changed_at
        self.before, self.overtaken_at = before or {}, overtaken_at

    @property
    def differing(self) -> list[str]:
        """The fields in which the two differ; may be empty, when only other fields changed."""
        return [name for name, value in self.yours.items() if self.theirs[name] != value]


def update_row(instance: Record, *, expected_version: int, fields: Sequence[str]) -> None:
    """Save the named fields of a row if nobody changed it since `expected_version`.

    The new values are set on `instance` already; it is validated whole, as the
    form would. One UPDATE compares and raises the version, so that of two
    simultaneous savers exactly one wins. Call it inside `acting`. `save()` and its
    signals are not involved.

    Raises ValidationError when the row would be wrong, and EditConflict when it
    has moved on; `instance` keeps what was typed in both cases.
    """
    instance.full_clean()
    values = {name: getattr(instance, name) for name in fields}
    rows = type(instance)._base_manager.filter(pk=instance.pk, version=expected_version)
    if rows.update(**values, version=F("version") + 1):
        instance.version = expected_version + 1
        return
    raise conflict(instance, values, read=expected_version)


def conflict(instance: Record, yours: dict[str, Any], *, read: int = 0) -> EditConflict:
    """Describe who was faster, and with what. `read` is the version that this person had read."""
    theirs = type(instance)._base_manager.get(pk=instance.pk)
    changes = changes_of_row(theirs)
    return EditConflict(
        theirs={name: getattr(theirs, name) for name in yours},
        yours=yours,
        version=theirs.version,
        changed_by=changes[-1].actor if changes else "",
        changed_at=changes[-1].at if changes else None,
        before=_as_read(theirs, list(yours), changes, read),
        overtaken_at=next((c.at for c in changes if c.new and c.new["version"] > read), None),
    )


def _as_read(
    instance: Record, names: Sequence[str], changes: Sequence[Change], version: int
) -> dict[str, Any]:
    """Return fields as they were in a version of the row; empty when there was none."""
    row = next((c.new for c in reversed(changes) if c.new and c.new["version"] == version), None)
    if row is None:
        return {}
    columns: dict[str, Any] = {name: instance._meta.get_field(name) for name in names}
    return {
        name: _read(column, row.get(column.column, column.get_default()))  # older than the column
        for name, column in columns.items()
    }


def _read(column: Any, stored: Any) -> Any:
    """Return a stored value as the model has it."""
    if column.is_relation:
        return column.related_model._base_manager.filter(pk=stored).first()
    return column.to_python(stored)
