"""Writing the rows of a confirmed referral file."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from register.domain.vocabulary import LAB_UNIT
from register.imports.referrals.rows import ReferralRow
from register.imports.verdicts import Kind, Verdict
from register.models import (
    Fracture,
    LaboratoryResult,
    Patient,
    PatientPhone,
    Referral,
    ReferralDrug,
    Site,
    User,
)
from register.services.import_writing import Say, Writer

_KINDS: Final = (Patient, PatientPhone, Referral, ReferralDrug, Fracture, LaboratoryResult)


def referrals_write(
    verdicts: Sequence[Verdict], *, site: Site, user: User, say: Say | None = None
) -> None:
    """Write new patients, every new referral, and what rows change. Call it inside `acting`.

    Raises what Writer.write raises.
    """
    writer = Writer(*_KINDS, say=say)
    there = _blood_recorded(verdicts)
    patients = Patient.objects.in_bulk([v.patient_id for v in verdicts if v.patient_id])
    brought: dict[int, Patient] = {}
    for verdict in verdicts:
        row: ReferralRow = verdict.row
        if verdict.kind is Kind.CHANGED:
            writer.take(verdict)
            continue
        patient = patients.get(verdict.patient_id or 0) or brought.get(verdict.earlier_row or 0)
        if patient is None:
            patient = Patient(site=site, **row.patient)
            writer.add(row.number, patient)
            if row.phone:
                writer.add(row.number, PatientPhone(patient=patient, number=row.phone))
        brought[row.number] = patient
        for record in _records(row, patient, there):
            writer.add(row.number, record)
        writer.take(verdict)
    writer.write()


def _records(
    row: ReferralRow, patient: Patient, there: set[tuple[object, ...]]
) -> Iterator[Referral | ReferralDrug | Fracture | LaboratoryResult]:
    """Yield a new referral with its drugs, levels and blood values."""
    referral = Referral(patient=patient, **row.referral)
    yield referral
    for drug, indication in row.drugs:
        yield ReferralDrug(referral=referral, drug=drug, indication=indication)
    yield from _fractures(row, referral)
    for analyte, value in row.laboratory.items():
        key = (patient.pk or row.patient["hospital_number"], analyte, row.taken_on, value)
        if row.taken_on is not None and key not in there:
            there.add(key)
            yield LaboratoryResult(
                patient=patient,
                analyte=analyte,
                value=value,
                unit=LAB_UNIT[analyte],
                taken_on=row.taken_on,
            )


def _fractures(row: ReferralRow, referral: Referral) -> Iterable[Fracture]:
    """Yield the levels; they begin when the referral says, or are unknown for its reason."""
    absent = dict(row.fracture.get("absent", {}))
    if reason := referral.absent.get("onset_on"):
        absent["onset_on"] = reason
    findings = {name: value for name, value in row.fracture.items() if name != "absent"}
    for level in row.levels:
        yield Fracture(
            patient=referral.patient,
            referral=referral,
            level=level,
            onset_on=referral.onset_on,
            onset_precision=referral.onset_precision,
            absent=absent,
            **findings,
        )


def _blood_recorded(verdicts: Sequence[Verdict]) -> set[tuple[object, ...]]:
    """Return the blood values of known patients that are recorded already."""
    asked = [v.patient_id for v in verdicts if v.patient_id and v.row.laboratory]
    names = ("patient_id", "analyte", "taken_on", "value")
    return set(LaboratoryResult.objects.live().filter(patient__in=asked).values_list(*names))
