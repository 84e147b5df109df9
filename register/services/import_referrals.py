"""Writing the rows of a confirmed file: all kinds of records at once, the tables' checks in force.

Ten thousand rows take a handful of INSERTs. Each value was checked cell by cell
when the file was read; field by field it is checked once more here, and the
named constraints of the tables hold for these rows as for any other.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import ForeignKey

from register.domain.vocabulary import LAB_UNIT
from register.imports.referrals.rows import ReferralRow
from register.imports.verdicts import Verdict
from register.models import (
    Fracture,
    LaboratoryResult,
    Patient,
    PatientPhone,
    Referral,
    ReferralDrug,
    Site,
)
from register.models.base import Record

Pairs = list[tuple[ReferralRow, Patient]]


def referrals_write(verdicts: Sequence[Verdict], *, site: Site) -> None:
    """Write new patients and every referral of the verdicts. Call it inside `acting`.

    Raises ValidationError naming the row, or IntegrityError from a constraint.
    """
    pairs = _with_patients(verdicts, site)
    new = [(row, patient) for row, patient in pairs if patient.pk is None]
    patients = list({id(patient): (row, patient) for row, patient in new}.values())
    _insert(Patient, patients)
    _insert(
        PatientPhone,
        [(row, PatientPhone(patient=p, number=row.phone)) for row, p in patients if row.phone],
    )
    referrals = [(row, Referral(patient=patient, **row.referral)) for row, patient in pairs]
    _insert(Referral, referrals)
    _insert(ReferralDrug, [(row, drug) for row, r in referrals for drug in _drugs(row, r)])
    _insert(Fracture, [(row, broken) for row, r in referrals for broken in _fractures(row, r)])
    _insert(LaboratoryResult, _results(pairs))


def _with_patients(verdicts: Sequence[Verdict], site: Site) -> Pairs:
    """Return each row with its patient: recorded, brought by an earlier row, or new."""
    recorded = Patient.objects.live().in_bulk([v.patient_id for v in verdicts if v.patient_id])
    by_row: dict[int, Patient] = {}
    pairs = []
    for verdict in verdicts:
        row = verdict.row
        assert row is not None
        patient = (
            recorded.get(verdict.patient_id or 0)
            or by_row.get(verdict.earlier_row or 0)
            or Patient(site=site, **row.patient)
        )
        by_row[row.number] = patient
        pairs.append((row, patient))
    return pairs


def _drugs(row: ReferralRow, referral: Referral) -> Iterable[ReferralDrug]:
    for drug, indication in row.drugs:
        yield ReferralDrug(referral=referral, drug=drug, indication=indication)


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


def _results(pairs: Pairs) -> list[tuple[ReferralRow, LaboratoryResult]]:
    """Return the blood values that are not recorded yet."""
    asked = [patient.pk for row, patient in pairs if row.laboratory]
    names = ("patient_id", "analyte", "taken_on", "value")
    there = set(LaboratoryResult.objects.live().filter(patient__in=asked).values_list(*names))
    return [
        (
            row,
            LaboratoryResult(
                patient=patient,
                analyte=analyte,
                value=value,
                unit=LAB_UNIT[analyte],
                taken_on=row.taken_on,
            ),
        )
        for row, patient in pairs
        if row.taken_on is not None
        for analyte, value in row.laboratory.items()
        if (patient.pk, analyte, row.taken_on, value) not in there
    ]


def _insert(kind: type[Record], records: Sequence[tuple[ReferralRow, Any]]) -> None:
    """Check the fields of each record, then insert all of one kind."""
    links = {field.name for field in kind._meta.concrete_fields if isinstance(field, ForeignKey)}
    for row, record in records:
        try:
            record.clean_fields(exclude=links)
        except ValidationError as error:
            raise ValidationError(f"Row {row.number}: {' '.join(error.messages)}") from error
    kind._base_manager.bulk_create([record for _, record in records])
