"""A row of any table, made from its columns alone: filled where it must be, set aside so that no
rule about live rows stands in the way.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, time
from itertools import count
from typing import Any, Final

from django.contrib.postgres.fields import ArrayField
from django.db import models

from register.domain.vocabulary import LAB_UNIT
from register.models.base import Record

DAY: Final = date(2027, 3, 1)
MOMENT: Final = datetime(2027, 3, 1, 12, tzinfo=UTC)
# What a table's own rules ask for, beyond what its columns say.
_ASKED: Final[dict[str, dict[str, Any]]] = {
    "register_laboratoryresult": {"analyte": "crp", "unit": LAB_UNIT["crp"]},
    "register_bonedensity": {"attenuation_hu": 90},
    "register_imagefile": {"sha256": "0" * 64},
    "register_procedure": {"state": "earlier"},  # of which nobody need be named
    "register_score": {"instrument": "pain_now", "value": 3},
    "register_theatrelogentry": {"hospital_number": "H1"},
    "register_technique": {"route": "balloon"},
    "planning_theatresession": {"minutes": 60},
    "planning_listentry": {"minutes": 30},
    "planning_ruleresult": {"verdict": "met"},
    "mfa_authenticator": {"type": "totp", "data": {}},
}
# Links that may be empty, and are not for this table.
_LINKED: Final = {("register_review", "procedure")}
# Links of which each row needs one of its own.
_ALONE: Final = {
    ("register_user_groups", "user"),
    ("register_user_user_permissions", "user"),
    ("register_technique_operators", "user"),
    ("mfa_authenticator", "user"),
    ("account_emailaddress", "user"),
    ("register_recordtransfer", "from_patient"),
    ("planning_listentry", "session"),
    ("planning_ruleresult", "assessment"),
}
_PLAIN: Final[tuple[tuple[type[models.Field], Callable[[int], Any]], ...]] = (
    (models.BooleanField, lambda n: False),
    (models.DateTimeField, lambda n: MOMENT),
    (models.DateField, lambda n: DAY),
    (models.TimeField, lambda n: time(8, 30)),
    (models.DecimalField, lambda n: 1),
    (models.IntegerField, lambda n: 1),
    (models.JSONField, lambda n: {}),
    (models.BinaryField, lambda n: b"drill"),
    (ArrayField, lambda n: []),
)


class Rows:
    """Makes rows; what they point at is made once and shared."""

    def __init__(self) -> None:
        self.shared: dict[type[models.Model], models.Model] = {}
        self.numbers = count(1)

    def unsaved(self, model: Any) -> Any:
        """Return a row that the database takes, not saved yet; what it points at is saved."""
        number, asked = next(self.numbers), _ASKED.get(model._meta.db_table, {})
        row = model()
        for column in model._meta.concrete_fields:
            if column.name in asked:
                setattr(row, column.name, asked[column.name])
            elif isinstance(column, models.ForeignKey):
                self._link(row, column)
            elif not column.primary_key and not column.has_default() and not column.null:
                setattr(row, column.name, _value(column, number))
        if issubclass(model, Record):
            row.voided_at, row.void_reason = MOMENT, "drill"
        return row

    def saved(self, model: Any) -> Any:
        """Return a saved row."""
        row = self.unsaved(model)
        row.save()
        return row

    def _link(self, row: Any, column: Any) -> None:
        where = (row._meta.db_table, column.name)
        if column.null and where not in _LINKED:
            return
        target = column.related_model
        if where in _ALONE:
            setattr(row, column.name, self.saved(target))
            return
        if target not in self.shared:
            self.shared[target] = target._base_manager.first() or self.saved(target)
        setattr(row, column.name, self.shared[target])


def _value(column: models.Field, number: int) -> Any:
    if column.choices:
        return column.flatchoices[0][0]
    for kind, value in _PLAIN:
        if isinstance(column, kind):
            return value(number)
    if column.name == "nhs_number":
        return ""
    return f"drill{number}"[: column.max_length or 20]
