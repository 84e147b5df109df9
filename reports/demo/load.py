"""Put the scenario into an empty register.

Rows are written in bulk, in one transaction and in the name of "demonstration";
the database holds every constraint, and the first row of each kind is validated
as a form would. Past decisions are made through the application, so
that each stands on an assessment of what was known on its day.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

from django.apps import apps
from django.contrib.auth.hashers import make_password
from django.db import models

from planning.services.assessments import assessment_record
from planning.services.decisions import rules_against
from register.history import acting
from register.models import Patient, Site, User
from reports.demo.book import Book, Row

ACTOR: Final = "demonstration"
PASSWORD: Final = "harrowmere-demo"  # stated in the README; the demo answers on this machine only
SITE_CODE: Final = "harrowmere"
# Facts first, then (in between) assessments and decisions, then what followed from them.
BEFORE_DECISIONS: Final = {
    "site": "department",
    "user": "people who sign in",
    "technique": "techniques",
    "stockitem": "lots in stock",
    "patient": "patients",
    "patientphone": "telephone numbers",
    "referral": "referrals",
    "referraldrug": "antithrombotic drugs",
    "fracture": "fractures",
    "study": "examinations",
    "reading": "readings",
    "measurement": "measurements",
    "laboratoryresult": "laboratory values",
    "bonedensity": "bone densities",
}
DECISIONS: Final = {"decision": "decisions"}
AFTER_DECISIONS: Final = {
    "procedureplan": "plans",
    "plannedlevel": "planned levels",
    "plannedapproach": "planned needles",
    "theatresession": "theatre sessions",
    "procedure": "procedures",
    "listentry": "cases on lists",
    "treatedlevel": "treated levels",
    "implantuse": "implants",
    "cementuse": "cement entries",
    "leak": "leaks",
    "complication": "complications",
    "review": "follow-up contacts",
    "score": "scores",
    "attempt": "attempts to reach somebody",
    "task": "tasks",
    "theatrelogentry": "lines of the theatre log",
}
WORDS: Final = BEFORE_DECISIONS | DECISIONS | AFTER_DECISIONS

Say = Callable[[str], None]


class OtherPeople(Exception):
    """The register holds people who are not of the demo; nothing was written."""


def is_loaded() -> bool:
    """Whether the scenario is there already."""
    return Site.objects.filter(code=SITE_CODE).exists()


def refuse_other_people() -> None:
    """Raise OtherPeople when somebody is in the register who is not of the demo."""
    others = Patient.objects.exclude(site__code=SITE_CODE).exists()
    if others or Site.objects.exclude(code=SITE_CODE).exists():
        raise OtherPeople(
            "This register holds other people. The demo goes into an empty one: "
            "choose another folder with REGISTER_STATE, or another database."
        )


@dataclass
class Loader:
    """Writes the rows of a book and remembers which row became which record."""

    say: Say
    records: dict[int, models.Model] = field(default_factory=dict)
    password: str = field(default_factory=lambda: make_password(PASSWORD))

    def write(self, rows: list[Row]) -> None:
        """Write all rows of one kind; what they point at is written already."""
        if not rows:
            return
        model = model_of(rows[0].kind)
        lists = {f.name for f in model._meta.many_to_many}
        own = {f.name for f in model._meta.fields if f.related_model is model}
        built = [model(**self._values(row, leave_out=lists | own)) for row in rows]
        built[0].full_clean()
        made = model._base_manager.bulk_create(built, batch_size=500)
        self.records |= {id(row): record for row, record in zip(rows, made, strict=True)}
        for name in lists:
            self._link_many(rows, name)
        for name in own:
            self._link_own(model, rows, name)
        self.say(f"  {len(rows):5d} {WORDS[rows[0].kind]}")

    def of(self, row: Row) -> Any:
        """Return the record that a row became."""
        return self.records[id(row)]

    def _values(self, row: Row, *, leave_out: set[str]) -> dict[str, Any]:
        values = {
            name: self.of(value) if isinstance(value, Row) else value
            for name, value in row.fields.items()
            if name not in leave_out
        }
        return values | ({"password": self.password} if row.kind == "user" else {})

    def _link_many(self, rows: list[Row], name: str) -> None:
        for row in rows:
            if name in row.fields:
                getattr(self.of(row), name).set([self.of(other) for other in row[name]])

    def _link_own(self, model: type[models.Model], rows: list[Row], name: str) -> None:
        """Set what points at a row of the same kind, which had to be written first."""
        linked = [row for row in rows if row.get(name) is not None]
        for row in linked:
            setattr(self.of(row), name, self.of(row[name]))
        model._base_manager.bulk_update([self.of(row) for row in linked], [name])


def model_of(kind: str) -> type[models.Model]:
    """Return the model of a kind. Raises LookupError for an unknown one."""
    for app in ("register", "planning"):
        try:
            return apps.get_model(app, kind)
        except LookupError:
            continue
    raise LookupError(f"No model is called {kind!r}.")


def load(book: Book, *, say: Say) -> None:
    """Write a whole book, or nothing. Raises OtherPeople when the register is not empty."""
    refuse_other_people()
    loader = Loader(say)
    with acting(ACTOR, "Demo scenario loaded"):
        for kind in BEFORE_DECISIONS:
            loader.write(book.of(kind))
        _decide(loader, book.of("decision"))
        for kind in AFTER_DECISIONS:
            loader.write(book.of(kind))


def _decide(loader: Loader, decisions: list[Row]) -> None:
    """Assess each fracture as of the day of its decision, then write what was decided."""
    consultants = list(User.objects.filter(role="consultant").order_by("pk"))
    in_order = sorted(decisions, key=lambda row: (row["decided_on"], row.number))
    assessments = {
        id(row): assessment_record(
            fracture=loader.of(row["fracture"]),
            made_by=loader.of(row["made_by"]),
            as_of=row["decided_on"],
        )
        for row in in_order
    }
    loader.say(f"  {len(in_order):5d} assessments")
    for row in in_order:
        assessment = assessments[id(row)]
        against = rules_against(assessment, row["route"])
        others = [person for person in consultants if person != loader.of(row["made_by"])]
        row.fields |= {
            "assessment": assessment,
            "against_rules": against,
            "second_name": others[0] if against else None,
        }
    loader.write(in_order)


def sign_ins() -> str:
    """Return who can sign in to the demo, one line a person, with the password."""
    people = User.objects.filter(site__code=SITE_CODE, is_active=True).order_by("pk")
    lines = [f"  {person.username:12} {person.job_title}" for person in people]
    return "\n".join([f"Sign in with the password {PASSWORD} as", *lines])
