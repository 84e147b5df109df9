"""What the register holds about fractures, loaded in a fixed number of queries.

The bridge to the rules (planning.facts), the worklist and the patient record
read it. Everything is newest first and dated on or before the day asked about;
rows that were voided are left out.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Prefetch

from planning.models import Decision, ListEntry, PlannedLevel, ProcedurePlan
from register.domain.clock import onset_range
from register.models import (
    BoneDensity,
    Fracture,
    LaboratoryResult,
    Measurement,
    Reading,
    Referral,
    ReferralDrug,
)


@dataclass(frozen=True, slots=True)
class Evidence:
    """One fracture with everything that speaks about it on a day.

    `referrals` are its own and later ones; `readings` those of this fracture;
    `patient_readings` those of every level of the same spine, this one included;
    `patient_fractures` all fractures of the patient, old or new.
    `plan` is the newest plan that holds the fracture, None without one.
    """

    fracture: Fracture
    referrals: tuple[Referral, ...]
    readings: tuple[Reading, ...]
    patient_readings: tuple[Reading, ...]
    laboratory: tuple[LaboratoryResult, ...]
    densities: tuple[BoneDensity, ...]
    decisions: tuple[Decision, ...]
    patient_fractures: tuple[Fracture, ...]
    plan: ProcedurePlan | None

    @property
    def fractured_levels(self) -> frozenset[str]:
        """All levels of the patient with a fracture, old or new."""
        return frozenset(fracture.level for fracture in self.patient_fractures)

    @property
    def referral(self) -> Referral | None:
        """The newest referral that speaks about this fracture."""
        return self.referrals[0] if self.referrals else None

    @property
    def decision(self) -> Decision | None:
        """The newest decision."""
        return self.decisions[0] if self.decisions else None

    @property
    def measurement(self) -> Measurement | None:
        """The newest measurement of the newest reading that was measured."""
        return next((m for reading in self.readings for m in reading.measurements.all()), None)


def evidence_of(fracture: Fracture, *, on: date) -> Evidence:
    """Return the evidence of one fracture."""
    return evidence_of_many([fracture], on=on)[fracture.pk]


def evidence_of_many(fractures: Iterable[Fracture], *, on: date) -> dict[int, Evidence]:
    """Return the evidence by fracture id; the same number of queries for one and for many.

    The fractures must come with their patient (select_related).
    """
    wanted = list(fractures)
    patients = {fracture.patient_id for fracture in wanted}
    referrals = _by_patient(_referrals(patients, on))
    readings = _by_patient(_readings(patients, on), "study")
    laboratory = _by_patient(_dated(LaboratoryResult, "taken_on", patients, on))
    densities = _by_patient(_dated(BoneDensity, "measured_on", patients, on))
    decisions = _decisions(wanted, on)
    plans = _by_patient(_plans(patients))
    fractured = _by_patient(Fracture.objects.live().filter(patient__in=patients).order_by("pk"))
    return {
        fracture.pk: Evidence(
            fracture=fracture,
            referrals=_about(fracture, referrals[fracture.patient_id]),
            readings=tuple(r for r in readings[fracture.patient_id] if _shows(r, fracture)),
            patient_readings=tuple(readings[fracture.patient_id]),
            laboratory=tuple(laboratory[fracture.patient_id]),
            densities=tuple(densities[fracture.patient_id]),
            decisions=tuple(decisions[fracture.pk]),
            patient_fractures=tuple(fractured[fracture.patient_id]),
            plan=next((p for p in plans[fracture.patient_id] if _holds(p, fracture)), None),
        )
        for fracture in wanted
    }


def _about(fracture: Fracture, newest_first: list[Referral]) -> tuple[Referral, ...]:
    """Return the fracture's own referral and later ones; without its own, only the newest.

    An older complaint of the same patient never speaks about this fracture.
    """
    if not newest_first:
        return ()
    own = next((r for r in newest_first if r.pk == fracture.referral_id), newest_first[0])
    return tuple(r for r in newest_first if r.referred_on >= own.referred_on)


def _shows(reading: Reading, fracture: Fracture) -> bool:
    """Whether a reading is of this fracture: of its level, and linked to it or since its onset."""
    if reading.level != fracture.level:
        return False
    if reading.fracture_id is not None:
        return bool(reading.fracture_id == fracture.pk)
    if fracture.onset_on is None:
        return True
    earliest, _ = onset_range(fracture.onset_on, fracture.onset_precision)
    return bool(reading.study.performed_on >= earliest)


def _holds(plan: ProcedurePlan, fracture: Fracture) -> bool:
    return any(level.fracture_id == fracture.pk for level in plan.levels.all())


def _referrals(patients: set[int], on: date) -> Iterable[Referral]:
    drugs = Prefetch("drugs", ReferralDrug.objects.live().order_by("pk"))
    return (
        Referral.objects.live()
        .filter(patient__in=patients, referred_on__lte=on)
        .prefetch_related(drugs)
        .order_by("-referred_on", "-pk")
    )


def _readings(patients: set[int], on: date) -> Iterable[Reading]:
    # A blinded repeat tells how good the reading is, and changes no number of the patient.
    measured = Measurement.objects.live().filter(measured_on__lte=on, marking__repeats=None)
    return (
        Reading.objects.live()
        .filter(
            study__patient__in=patients,
            study__voided_at=None,
            study__performed_on__lte=on,
            read_on__lte=on,
        )
        .select_related("study")
        .prefetch_related(Prefetch("measurements", measured.order_by("-measured_on", "-pk")))
        .order_by("-study__performed_on", "-read_on", "-pk")
    )


def _dated(model: Any, day: str, patients: set[int], on: date) -> Iterable[Any]:
    rows: Iterable[Any] = (
        model.objects.live()
        .filter(patient__in=patients, **{f"{day}__lte": on})
        .order_by(f"-{day}", "-pk")
    )
    return rows


def _plans(patients: set[int]) -> Iterable[ProcedurePlan]:
    entries = ListEntry.objects.live().select_related("session").order_by("-pk")
    return (
        ProcedurePlan.objects.live()
        .filter(patient__in=patients)
        .select_related("technique", "approved_by")
        .prefetch_related(
            Prefetch("levels", PlannedLevel.objects.live().order_by("pk")),
            Prefetch("entries", entries),
        )
        .order_by("-pk")
    )


def _decisions(fractures: list[Fracture], on: date) -> dict[int, list[Decision]]:
    found: dict[int, list[Decision]] = defaultdict(list)
    rows = (
        Decision.objects.live()
        .filter(fracture__in=fractures, decided_on__lte=on)
        .select_related("made_by", "second_name")
        .order_by("-decided_on", "-pk")
    )
    for row in rows:
        found[row.fracture_id].append(row)
    return found


def _by_patient(rows: Iterable[Any], through: str = "") -> dict[int, list[Any]]:
    grouped: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        grouped[(getattr(row, through) if through else row).patient_id].append(row)
    return grouped
