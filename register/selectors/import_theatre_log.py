"""What the register holds for the lines of a theatre log, and the verdicts that follow."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from django.db.models import Q
from django.db.models.functions import Lower

from register.imports.people import KnownPeople, KnownPerson
from register.imports.reading import ReadFile
from register.imports.theatre_log.columns import COLUMNS
from register.imports.theatre_log.judging import KnownLine, judge
from register.imports.theatre_log.matching import KnownProcedure, LogLine, RegisterSide
from register.imports.theatre_log.rows import WHO, LogRow
from register.imports.verdicts import Verdict
from register.models import Patient, Procedure, TheatreLogEntry
from register.selectors.import_people import (
    ByHand,
    people_as_recorded,
    people_meant,
    row_as_recorded,
)
from register.selectors.import_provenance import fields_by_hand

_FIELDS: Final = (*(column.field for column in COLUMNS), "absent")


def judge_theatre_log(site_id: int, file: ReadFile) -> tuple[Verdict, ...]:
    """Return the verdict on each row of a theatre log as the register stands now."""
    rows: list[LogRow] = file.rows
    recorded = known_lines(site_id, rows)
    lines = [LogLine(_who(row.values), row.values["performed_on"]) for row in rows]
    lines += [LogLine(_who(line.values), line.values["performed_on"]) for line in recorded]
    return judge(site_id, file, recorded, register_side(site_id, lines))


def known_lines(site_id: int, rows: Sequence[LogRow]) -> list[KnownLine]:
    """Return the recorded lines that rows may be; three queries however many there are."""
    references = {row.reference for row in rows if row.reference}
    days = {row.values["performed_on"] for row in rows}
    found = TheatreLogEntry.objects.live().alias(lower=Lower("reference")).filter(
        Q(lower__in=references) | Q(performed_on__in=days), site=site_id
    )  # fmt: skip
    lines = list(found.select_related("procedure__patient").order_by("pk"))
    by_hand: ByHand = {
        TheatreLogEntry: fields_by_hand(TheatreLogEntry, [line.pk for line in lines])
    }
    return [
        KnownLine(
            **row_as_recorded(line, _FIELDS, by_hand),
            procedure_id=line.procedure_id,
            is_settled=line.settled_by_id is not None and not line.is_open,
        )
        for line in lines
    ]


def register_side(site_id: int, lines: Iterable[LogLine]) -> RegisterSide:
    """Return people, procedures and former findings for some lines.

    The same number of queries however many lines there are.
    """
    ids = people_meant(site_id, [line.who for line in lines])
    recorded = people_as_recorded(Patient.objects.filter(pk__in=ids))
    people = KnownPeople.of(KnownPerson(**values) for values in recorded.values())
    procedures: dict[int, list[KnownProcedure]] = defaultdict(list)
    rows = Procedure.objects.live().filter(patient__in=ids, patient__voided_at=None)
    for pk, patient_id, day in rows.order_by("pk").values_list("pk", "patient_id", "performed_on"):
        procedures[patient_id].append(KnownProcedure(pk, day))
    return RegisterSide(
        people=people,
        procedures={patient_id: tuple(found) for patient_id, found in procedures.items()},
        lines_of=_lines_of(one.id for found in procedures.values() for one in found),
    )


def _lines_of(procedures: Iterable[int]) -> Mapping[int, frozenset[int]]:
    found: dict[int, set[int]] = defaultdict(set)
    rows = TheatreLogEntry.objects.live().filter(procedure__in=list(procedures))
    for line_id, procedure_id in rows.values_list("pk", "procedure_id"):
        found[procedure_id].add(line_id)
    return {procedure_id: frozenset(lines) for procedure_id, lines in found.items()}


def _who(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: values[name] for name in WHO if values.get(name)}
