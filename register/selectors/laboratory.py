"""Blood tests as a table of tests and days, and bone densities."""

from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from register.domain.vocabulary import LAB_ANALYTE, LAB_UNIT
from register.models import BoneDensity, LaboratoryResult, Patient

DAYS = 8  # the newest days with a blood test; older ones stay in the timeline


@dataclass(frozen=True, slots=True)
class BloodValue:
    """One value in figures without idle zeros, why it is unusual ("" when it is not), its key."""

    pk: int
    figures: str
    unusual: str


@dataclass(frozen=True, slots=True)
class BloodRow:
    """One test: its name, its unit, and for each day the values given; none is an empty list."""

    name: str
    unit: str
    cells: tuple[tuple[BloodValue, ...], ...]


@dataclass(frozen=True, slots=True)
class BloodTable:
    """The newest days, newest first, and the tests that have a value on one of them."""

    days: tuple[date, ...]
    rows: tuple[BloodRow, ...]


def blood_table(patient: Patient) -> BloodTable:
    """Return what is recorded of a patient's blood, in one query."""
    found: dict[date, dict[str, list[BloodValue]]] = {}
    for result in LaboratoryResult.objects.live().filter(patient=patient):
        found.setdefault(result.taken_on, {}).setdefault(result.analyte, []).append(_value(result))
    days = tuple(sorted(found, reverse=True)[:DAYS])
    rows = [
        BloodRow(
            name=words.partition(",")[0],
            unit=LAB_UNIT[analyte],
            cells=tuple(tuple(found[day].get(analyte, ())) for day in days),
        )
        for analyte, words in LAB_ANALYTE
    ]
    return BloodTable(days, tuple(row for row in rows if any(row.cells)))


def _value(result: LaboratoryResult) -> BloodValue:
    return BloodValue(result.pk, f"{result.value.normalize():f}", result.unusual.get("value", ""))


def bone_densities(patient: Patient) -> QuerySet[BoneDensity]:
    """The live bone densities, newest first."""
    return BoneDensity.objects.live().filter(patient=patient).order_by("-measured_on", "-pk")
