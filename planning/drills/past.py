"""Rebuild random records at random moments, and compare with a log of our own kept meanwhile."""

from bisect import bisect_right
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from random import Random
from typing import Any, Final

from django.db.models import F
from django.utils import timezone

from planning.drills._people import DAY, Department
from planning.record_kinds import KINDS
from register.drills._paths import JOB
from register.drills._paths import run as ask
from register.history import acting
from register.history.past import row_as_of
from register.history.reading import changes_of
from register.models import Patient
from register.selectors.history import records_as_of

RUNS: Final = 1000
Key = tuple[str, int]


@dataclass
class Shadow:
    """What each record was, by our own notes: (moment after the write, its values).

    `writing` holds when each write began and when it was noted: in between nobody
    outside can say whether the record had changed already.
    """

    notes: dict[Key, list[tuple[datetime, dict[str, Any]]]] = field(default_factory=dict)
    writing: list[tuple[datetime, datetime]] = field(default_factory=list)

    @contextmanager
    def watched(self) -> Iterator[None]:
        """Keep the time of a write with its note."""
        began = _clock()
        yield
        self.writing.append((began, _clock()))

    def settled(self, moment: datetime) -> datetime:
        """Return a moment that lies in no write: the end of the one it would fall into."""
        place = bisect_right(self.writing, (moment, moment)) - 1
        inside = place >= 0 and moment < self.writing[place][1]
        return self.writing[place][1] if inside else moment

    def note(self, row: Any) -> None:
        """Read a record as the models see it, and the database's clock."""
        row.refresh_from_db()
        values = {column.attname: getattr(row, column.attname) for column in _columns(row)}
        self.notes.setdefault((row._meta.db_table, row.pk), []).append((_clock(), values))

    def at(self, key: Key, moment: datetime) -> dict[str, Any] | None:
        """Return what a record was at a moment."""
        return next((was for when, was in reversed(self.notes[key]) if when <= moment), None)


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Change `runs` records at random, then rebuild each at a random moment; True without a
    mismatch, also for patients whose rows were set aside or given to another.
    """
    chance, shadow = Random(seed), Shadow()
    with shadow.watched():
        with acting(JOB):
            home = Department(f"Past {seed}")
            people = [home.patient(chance) for _ in range(max(2, runs // 50))]
            rows = [_new(home, chance.choice(people), chance) for _ in range(runs)]
        for row in rows:
            shadow.note(row)
    kinds: dict[str, int] = {}
    for _ in range(3 * runs):
        row = chance.choice(rows)
        with shadow.watched():
            way = _change(row, people, chance)
            shadow.note(row)
        kinds[way] = kinds.get(way, 0) + 1
    moments = [_between(shadow, row, chance) for row in rows]
    wrong = sum(not _same(row, at, shadow) for row, at in zip(rows, moments, strict=True))
    pages = sum(not _page_right(p, chance.choice(moments), rows, shadow) for p in people)
    say(f"{3 * runs} changes: {', '.join(f'{n} {way}' for way, n in sorted(kinds.items()))}.")
    say(f"{runs} records at random moments: {wrong} mismatches.")
    say(f"{len(people)} whole patient pages at random moments: {pages} mismatches.")
    return wrong == 0 and pages == 0


def _new(home: Department, patient: Patient, chance: Random) -> Any:
    """Return a new record of a kind by which a patient can have any number."""
    return chance.choice([_phone, _task, _density, _blood])(home, patient)


def _phone(home: Department, patient: Patient) -> Any:
    return patient.phones.create(number="01632 960001")


def _task(home: Department, patient: Patient) -> Any:
    return patient.tasks.create(kind="result", title="See", owner=home.user, due_on=DAY)


def _density(home: Department, patient: Patient) -> Any:
    return patient.bone_densities.create(measured_on=DAY, attenuation_hu=90)


def _blood(home: Department, patient: Patient) -> Any:
    return patient.laboratory_results.create(analyte="crp", unit="mg/L", value=4, taken_on=DAY)


_FIELD: Final = {
    "register_patientphone": lambda c: {"times": f"after {c.randint(8, 18)}:00"},
    "register_task": lambda c: {"title": f"See {c.randint(1, 99)}"},
    "register_bonedensity": lambda c: {"attenuation_hu": c.randint(-200, 1000)},
    "register_laboratoryresult": lambda c: {"value": c.randint(0, 9999) / 100},
}


def _change(row: Any, people: list[Patient], chance: Random) -> str:
    """Change a record in one of the ways that happen; return which."""
    rows = type(row)._base_manager.filter(pk=row.pk)
    way = chance.choice(["saved", "updated", "set aside or back", "given to another"])
    with acting(JOB, way):
        if way == "set aside or back":
            aside = row.voided_at is None
            rows.update(
                voided_at=timezone.now() if aside else None, void_reason="drill" if aside else ""
            )
        elif way == "given to another":
            rows.update(patient=chance.choice(people))
        elif way == "updated":
            rows.update(version=F("version") + 1, **_FIELD[row._meta.db_table](chance))
        else:
            for name, value in _FIELD[row._meta.db_table](chance).items():
                setattr(row, name, value)
            row.save()
    return way


def _between(shadow: Shadow, row: Any, chance: Random) -> datetime:
    """Return a moment between the record's first note and now."""
    first = shadow.notes[row._meta.db_table, row.pk][0][0]
    return shadow.settled(first + (_clock() - first) * chance.random())


def _same(row: Any, at: datetime, shadow: Shadow) -> bool:
    """Whether the rebuilt record has, column by column, what was noted."""
    table = row._meta.db_table
    rebuilt, noted = row_as_of(changes_of(table, row.pk), at), shadow.at((table, row.pk), at)
    if rebuilt is None or noted is None:
        return rebuilt is None and noted is None
    return all(_equal(c, rebuilt[c.column], noted[c.attname]) for c in _columns(row))


def _page_right(patient: Patient, at: datetime, rows: list[Any], shadow: Shadow) -> bool:
    """Whether a patient's page of the past holds exactly the records that were theirs then."""
    shown = {
        (record.kind.table, record.key)
        for _, records in records_as_of(patient, at, KINDS, {})
        for record in records
        if record.kind.code != "patient"
    }
    keys = [(row._meta.db_table, row.pk) for row in rows]
    was = {key: shadow.at(key, at) for key in keys}
    return shown == {k for k, v in was.items() if v and v["patient_id"] == patient.pk}


def _equal(column: Any, stored: Any, noted: Any) -> bool:
    return bool(column.to_python(stored) == noted)


def _columns(row: Any) -> list[Any]:
    return [c for c in row._meta.concrete_fields if not c.is_relation or c.name == "patient"]


def _clock() -> datetime:
    moment: datetime = ask("SELECT clock_timestamp()")[0][0]
    return moment
