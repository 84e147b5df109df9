"""What the numbers in a stored row point at, looked up for a whole page at once."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any, Final

from django.db import models

from register.models import Patient, Review, User

# What a record's own words are made of, beside its row.
NEEDED: Final = {
    "procedure": ("technique",),
    "procedureplan": ("technique",),
    "treatedlevel": ("fracture",),
    "plannedlevel": ("fracture",),
    "reading": ("study",),
}


class Names:
    """Records by model and key, in words. As many queries as there are kinds of records."""

    def __init__(self, timepoints: Mapping[str, str] | None = None) -> None:
        self.timepoints = timepoints or {}
        self.found: dict[tuple[type[models.Model], int], models.Model] = {}

    def load(self, rows: Iterable[tuple[type[models.Model], Mapping[str, Any]]]) -> None:
        """Look up everything that these stored rows point at."""
        wanted: dict[type[models.Model], set[int]] = defaultdict(set)
        for model, row in rows:
            for column in model._meta.concrete_fields:
                key = row.get(str(column.column))
                if isinstance(column, models.ForeignKey) and key is not None:
                    wanted[column.related_model].add(key)
        for model, keys in wanted.items():
            self.look_up(model, keys)

    def look_up(self, model: type[models.Model], keys: Iterable[int]) -> None:
        """Look up some records of one model that are not known yet."""
        missing = [key for key in set(keys) if (model, key) not in self.found]
        if missing:
            rows = model._base_manager.filter(pk__in=missing)
            needed = NEEDED.get(str(model._meta.model_name), ())
            for record in rows.select_related(*needed) if needed else rows:
                self.found[model, record.pk] = record

    def get(self, model: type[models.Model], key: Any) -> Any:
        """Return a record that was looked up; None when there is none."""
        return self.found.get((model, key))

    def of(self, model: Any, key: Any) -> str:
        """Return a record in words. A patient only by number: another one's name is not told."""
        if key is None:
            return "not recorded"
        record = self.get(model, key)
        if record is None or isinstance(record, Patient):
            return f"{model._meta.verbose_name} record {key}"
        return self.timepoint(record.timepoint) if isinstance(record, Review) else str(record)

    def timepoint(self, code: str) -> str:
        """Return what the protocol calls a contact."""
        return self.timepoints.get(code, code.replace("_", " "))

    def person(self, key: int | None) -> User | None:
        """Return a person who was looked up."""
        found: User | None = self.get(User, key)
        return found
