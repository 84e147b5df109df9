"""Put the scenario into an empty register.

Rows are written in bulk, in one transaction and in the name of "system:demo";
the database holds every constraint, and the first rows of each kind are
validated as a form would. Past decisions are made through the application, so
that each stands on an assessment of what was known on its day.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

from django.apps import apps
from django.contrib.auth.hashers import make_password
from django.db import models

from planning.models import Decision
from planning.rules.rulesets import protocol_digest, ruleset
from planning.services.assessments import assessment_record, decision_record
from register.domain.protocol import shipped
from register.history import acting
from register.models import Patient, Protocol, Site, User
from reports.demo.book import Book, Row

ACTOR: Final = "system:demo"
PASSWORD: Final = "harrowmere-demo"  # stated in the README; the demo answers on this machine only
SITE_CODE: Final = "harrowmere"
# Facts first, then (in between) assessments and decisions, then what followed from them.
BEFORE_DECISIONS: Final = (
    "site", "user", "technique", "stockitem", "patient", "patientphone", "referral",
    "referraldrug", "fracture", "study", "reading", "measurement", "laboratoryresult",
    "bonedensity",
)  # fmt: skip
AFTER_DECISIONS: Final = (
    "procedureplan", "plannedlevel", "theatresession", "procedure", "listentry", "treatedlevel",
    "implantuse", "cementuse", "leak", "complication", "review", "score", "attempt", "task",
)  # fmt: skip
VALIDATED_OF_EACH_KIND: Final = 3

Say = Callable[[str], None]


class OtherPeople(Exception):
    """The register holds people who are not of the demo; nothing was written."""


def is_loaded() -> bool:
    """Whether the scenario is there already."""
    return Site.objects.filter(code=SITE_CODE).exists()


def refuse_other_people() -> None:
    """Raise OtherPeople when the register is not empty and its people are not of the demo."""
    if is_loaded():
        others = Patient.objects.exclude(site__code=SITE_CODE)
    else:
        others = Patient.objects.all()
    if others.exists() or (not is_loaded() and Site.objects.exists()):
        raise OtherPeople(
            "This register holds other people. The demo goes into an empty one: "
            "choose another folder with REGISTER_STATE, or another database."
        )


@dataclass
class Loader:
    """Writes the rows of a book and remembers which row became which record."""

    say: Say
    records: dict[int, models.Model] = field(default_factory=dict)

    def write(self, rows: list[Row]) -> None:
        """Write all rows of one kind; what they point at is written already."""
        if not rows:
            return
        model = model_of(rows[0].kind)
        lists = {f.name for f in model._meta.many_to_many}
        built = [model(**self._values(row, leave_out=lists)) for row in rows]
        for record in built[:VALIDATED_OF_EACH_KIND]:
            record.full_clean()
        made = model._base_manager.bulk_create(built, batch_size=500)
        self.records |= {id(row): record for row, record in zip(rows, made, strict=True)}
        for row in rows:
            for name in lists & set(row.fields):
                getattr(self.of(row), name).set([self.of(other) for other in row[name]])
        self.say(f"  {len(rows):5d} {model._meta.verbose_name_plural}")

    def of(self, row: Row) -> Any:
        """Return the record that a row became."""
        return self.records[id(row)]

    def _values(self, row: Row, *, leave_out: set[str]) -> dict[str, Any]:
        values = {
            name: self.of(value) if isinstance(value, Row) else value
            for name, value in row.fields.items()
            if name not in leave_out
        }
        return values | ({"password": make_password(PASSWORD)} if row.kind == "user" else {})


def model_of(kind: str) -> type[models.Model]:
    """Return the model of a kind. Raises LookupError for an unknown one."""
    for app in ("register", "planning"):
        try:
            return apps.get_model(app, kind)
        except LookupError:
            continue
    raise LookupError(f"No model is called {kind!r}.")
