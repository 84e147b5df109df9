"""What was done, to whom, and how soon after the fracture. Clock: done."""

from collections import Counter
from dataclasses import dataclass

from register.domain.days import MONTHS
from register.domain.levels import region
from register.domain.vocabulary import FRACTURE_CAUSE, ROUTE, SEX
from reports.audits.numbers.log import Logged, logged
from reports.audits.rows import LevelRow, ProcedureRow, Rows
from reports.audits.spec import Period, Spec
from reports.audits.values import Counted, Middle, Share, counted, middle, share

REGION = (
    ("thoracic", "thoracic, T1 to T10"),
    ("thoracolumbar", "thoracolumbar, T11 to L2"),
    ("lumbar", "lumbar, L3 to L5"),
    ("elsewhere", "elsewhere"),
)
VAGUE = ("month", "year")  # an onset known to the month cannot be held against 42 days


@dataclass(frozen=True, slots=True)
class Activity:
    """Counts of a period. Ages in completed years, fracture ages in days at the procedure.

    `earlier` of the procedures come from a list, signed by nobody; `unsigned` are others.

    `in_window` is a share of the levels whose onset is known to the week;
    `onset_vague` (known to the month or year) and `onset_missing` are left out.
    """

    procedures: int
    patients: int
    levels: int
    unsigned: int
    earlier: int
    by_route: tuple[Counted, ...]
    by_technique: tuple[Counted, ...]
    by_region: tuple[Counted, ...]
    by_sex: tuple[Counted, ...]
    by_cause: tuple[Counted, ...]
    levels_each: tuple[Counted, ...]
    age: Middle
    age_missing: int
    fracture_age: Middle
    in_window: Share
    onset_vague: int
    onset_missing: int
    log: Logged


def activity(spec: Spec, rows: Rows, period: Period) -> Activity:
    """Count the procedures of a period; sex and age are counted per procedure."""
    done = [row for row in rows.procedures if period.holds(row.performed_on)]
    keys = {row.key for row in done}
    levels = [row for row in rows.levels if row.procedure in keys]
    ages = [row.age_years for row in done if row.age_years is not None]
    fracture_ages = [_age(row) for row in levels if _is_exact(row)]
    return Activity(
        procedures=len(done),
        patients=len({row.patient for row in done}),
        levels=len(levels),
        unsigned=sum(not row.signed and not row.earlier for row in done),
        earlier=sum(row.earlier for row in done),
        by_route=counted((row.route for row in done), ROUTE),
        by_technique=_by_technique(done),
        by_region=counted((region(row.level) for row in levels), REGION),
        by_sex=counted((row.sex for row in done), SEX),
        by_cause=counted((row.cause for row in levels), FRACTURE_CAUSE),
        levels_each=_levels_each(done, levels),
        age=middle(ages),
        age_missing=len(done) - len(ages),
        fracture_age=middle(fracture_ages),
        in_window=_in_window(spec, fracture_ages),
        onset_vague=sum(row.onset_precision in VAGUE for row in levels),
        onset_missing=sum(_has_no_onset(row) for row in levels),
        log=logged(rows, period),
    )


def by_month(rows: Rows, period: Period) -> tuple[Counted, ...]:
    """Count procedures by calendar month of a period, months without any included."""
    if period.first is None:
        raise ValueError("Months are counted from a first day; give a period that has one.")
    months = []
    year, month = period.first.year, period.first.month
    while (year, month) <= (period.last.year, period.last.month):
        months.append((year, month))
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
    done = [row.performed_on for row in rows.procedures if period.holds(row.performed_on)]
    seen = Counter((day.year, day.month) for day in done)
    return tuple(Counted(f"{y}-{m:02d}", f"{MONTHS[m - 1]} {y}", seen[(y, m)]) for y, m in months)


def _is_exact(row: LevelRow) -> bool:
    return row.fracture_age_days is not None and row.onset_precision not in VAGUE


def _has_no_onset(row: LevelRow) -> bool:
    return row.fracture_age_days is None and row.onset_precision not in VAGUE


def _in_window(spec: Spec, fracture_ages: list[int]) -> Share:
    window = spec.protocol.days("clock.window_days")
    return share(sum(age <= window for age in fracture_ages), len(fracture_ages))


def _age(row: LevelRow) -> int:
    assert row.fracture_age_days is not None
    return row.fracture_age_days


def _by_technique(done: list[ProcedureRow]) -> tuple[Counted, ...]:
    """Most frequent first, by name where equal."""
    names = Counter(row.technique for row in done)
    order = sorted(names, key=lambda name: (-names[name], name))
    return tuple(Counted(name, name, names[name]) for name in order)


def _levels_each(done: list[ProcedureRow], levels: list[LevelRow]) -> tuple[Counted, ...]:
    owners = Counter(row.procedure for row in levels)
    numbers = Counter(owners[row.key] for row in done)
    words = {0: "no level recorded", 1: "1 level"}
    return tuple(Counted(str(n), words.get(n, f"{n} levels"), numbers[n]) for n in sorted(numbers))
