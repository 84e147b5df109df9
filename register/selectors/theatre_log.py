"""The theatre log beside the register: what is in both, in the log alone, in the register alone."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Count, Exists, Max, Min, OuterRef, Q, QuerySet
from django.db.models.functions import TruncQuarter

from register.imports.people import letters
from register.imports.theatre_log.matching import NEAR_DAYS, LogLine, Match, match_all
from register.imports.theatre_log.rows import WHO
from register.models import Patient, Procedure, Site, TheatreLogEntry
from register.selectors.import_theatre_log import register_side

_FOUND = TheatreLogEntry.FOUND
_NOT_OURS = ~Q(not_ours_because="")


@dataclass(frozen=True, slots=True)
class LogCounts:
    """How many lines and procedures a period has; the days are None without any line.

    `operations` are (found, lines) of each operation that should be in the register.
    `procedures` are those from the first to the last day of the log, which alone a line can
    name; `named` are those that one names; `outside` are the others of the period.
    """

    lines: int
    found: int
    not_ours: int
    operations: tuple[tuple[int, int], ...]
    procedures: int
    named: int
    outside: int
    first_on: date | None
    last_on: date | None

    @property
    def to_be_found(self) -> int:
        """The lines that should be in the register: all but those that are none of it."""
        return self.lines - self.not_ours

    @property
    def open(self) -> int:
        """The lines that should be in the register and were not found there."""
        return self.to_be_found - self.found

    @property
    def unnamed(self) -> int:
        """The recorded procedures that no line names."""
        return self.procedures - self.named


def log_counts(site: Site, first: date, last: date) -> LogCounts:
    """Count the lines and procedures of a period, both days included. Two queries."""
    lines = list(_lines(site, first, last).select_related("procedure__patient"))
    operations: dict[tuple[Any, ...], list[bool]] = defaultdict(list)
    for line in lines:
        if not line.not_ours_because:
            operations[line.operation].append(line.found_as is not None)
    days = (lines[0].performed_on, lines[-1].performed_on) if lines else (None, None)
    logged = Q(performed_on__range=days) if lines else Q(pk=None)
    counted = _procedures(site, first, last).aggregate(
        procedures=Count("pk", filter=logged),
        named=Count("pk", filter=logged & Q(Exists(_naming()))),
        outside=Count("pk", filter=~logged),
    )
    return LogCounts(
        lines=len(lines),
        found=sum(map(sum, operations.values())),
        not_ours=sum(bool(line.not_ours_because) for line in lines),
        operations=tuple((sum(found), len(found)) for found in operations.values()),
        first_on=days[0],
        last_on=days[1],
        **counted,
    )


def found_lines(site: Site, first: date, last: date) -> QuerySet[TheatreLogEntry]:
    """The lines that are recorded procedures."""
    return _lines(site, first, last).filter(_FOUND).select_related(
        "procedure__patient", "procedure__technique", "settled_by"
    )  # fmt: skip


def not_ours_lines(site: Site, first: date, last: date) -> QuerySet[TheatreLogEntry]:
    """The lines of which a person said that they are no procedure of this register."""
    return _lines(site, first, last).filter(_NOT_OURS).select_related("settled_by")


def open_lines(site: Site, first: date, last: date) -> QuerySet[TheatreLogEntry]:
    """The lines that nothing was found for, or whose procedure was set aside since."""
    rest = _lines(site, first, last).filter(not_ours_because="").exclude(_FOUND)
    return rest.select_related("procedure__patient", "settled_by")


def unnamed_procedures(site: Site, first: date, last: date) -> QuerySet[Procedure]:
    """The recorded procedures that no line names, from the first to the last day of the log."""
    days = _lines(site, first, last).aggregate(first=Min("performed_on"), last=Max("performed_on"))
    if days["first"] is None:
        return Procedure.objects.none()
    rows = _procedures(site, days["first"], days["last"]).filter(~Exists(_naming()))
    return rows.select_related("patient", "technique", "operator").order_by("performed_on", "pk")


def matches_of(site: Site, lines: Iterable[TheatreLogEntry]) -> dict[int, Match]:
    """Return what the register holds now for each line, by its number."""
    wanted = {line.pk: line_as_compared(line) for line in lines}
    return match_all(wanted, register_side(site.pk, wanted.values())) if wanted else {}


def line_as_compared(line: TheatreLogEntry) -> LogLine:
    """Return a recorded line as it is compared with the register."""
    who = {name: value for name in WHO if (value := getattr(line, name))}
    return LogLine(who, line.performed_on, line.pk)


def candidates_for(line: TheatreLogEntry) -> list[Procedure]:
    """Return procedures that a person may find a line to be, those of its own day first.

    They lie within NEAR_DAYS, and a number of the patient or the family name is that of the
    line. Each carries `named`: whether another line is it already.
    """
    near = timedelta(days=NEAR_DAYS)
    rows = _procedures(line.site, line.performed_on - near, line.performed_on + near)
    other = _naming().exclude(pk=line.pk)
    rows = rows.select_related("patient", "technique").annotate(named=Exists(other))
    found = [one for one in rows.order_by("performed_on", "pk") if _may_be(line, one.patient)]
    return sorted(found, key=lambda one: abs((one.performed_on - line.performed_on).days))


def quarters_of(site: Site) -> list[tuple[date, int]]:
    """Return the first day of each quarter that the log has lines of, with their number."""
    rows = TheatreLogEntry.objects.live().filter(site=site).order_by()
    quarters = rows.annotate(quarter=TruncQuarter("performed_on")).values("quarter")
    counted = quarters.annotate(lines=Count("pk")).order_by("-quarter")
    return [(row["quarter"], row["lines"]) for row in counted]


def _may_be(line: TheatreLogEntry, patient: Patient) -> bool:
    hospital = line.hospital_number.casefold()
    return (
        (bool(line.nhs_number) and patient.nhs_number == line.nhs_number)
        or (bool(hospital) and patient.hospital_number.casefold() == hospital)
        or (bool(line.family_name) and letters(patient.family_name) == letters(line.family_name))
    )


def _lines(site: Site, first: date, last: date) -> QuerySet[TheatreLogEntry]:
    rows = TheatreLogEntry.objects.live().filter(site=site, performed_on__range=(first, last))
    return rows.order_by("performed_on", "pk")


def _procedures(site: Site, first: date, last: date) -> QuerySet[Procedure]:
    return Procedure.objects.live().filter(
        patient__site=site, patient__voided_at=None, performed_on__range=(first, last)
    )


def _naming() -> QuerySet[TheatreLogEntry]:
    """The lines that are the procedure of the query outside."""
    return TheatreLogEntry.objects.live().filter(procedure=OuterRef("pk"))
