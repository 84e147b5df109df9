"""The patients whom a file may mean, read from the register. For all kinds of file."""

from collections.abc import Iterable, Mapping
from typing import Any

from register.imports.people import IDENTITY, bare, name_and_birth
from register.models import Patient
from register.models.base import Record
from register.selectors.import_provenance import UNDONE
from register.selectors.set_aside import standing_numbers

ByHand = Mapping[type[Record], Mapping[int, frozenset[str]]]


def people_meant(site_id: int, given: Iterable[Mapping[str, Any]]) -> list[int]:
    """Return the ids of the patients whom rows may mean, by numbers or by name and birth.

    `given` is what each row says of its patient. One query. Records that were set aside
    are among them, since their numbers are taken.
    """
    nhs, hospital, names = set(), set(), set()
    for row in given:
        nhs.add(row.get("nhs_number", ""))
        hospital.add(bare(row.get("hospital_number", "")))
        if all(row.get(name) for name in ("family_name", "given_name", "date_of_birth")):
            names.add(name_and_birth(row))
    nhs.discard("")
    hospital.discard("")
    everybody = Patient.objects.filter(site=site_id).values("id", *IDENTITY)
    return [
        person["id"]
        for person in everybody
        if person["nhs_number"] in nhs
        or bare(person["hospital_number"]) in hospital
        or name_and_birth(person) in names
    ]


def people_as_recorded(
    patients: Iterable[Patient], *, more: Iterable[str] = (), by_hand: ByHand | None = None
) -> dict[int, dict[str, Any]]:
    """Return what makes a KnownPerson of each patient, by id.

    `more` are fields to compare beside IDENTITY and the date of death.
    """
    patients = list(patients)
    names = dict.fromkeys((*IDENTITY, "date_of_death", *more))
    stands_as = standing_numbers(p.pk for p in patients if p.voided_at is not None)
    return {
        patient.pk: row_as_recorded(patient, names, by_hand)
        | {
            "set_aside": patient.voided_at is not None,
            "undone": patient.void_reason.startswith(UNDONE),
            "stands_as": stands_as.get(patient.pk, ""),
        }
        for patient in patients
    }


def row_as_recorded(
    record: Record, names: Iterable[str], by_hand: ByHand | None = None
) -> dict[str, Any]:
    """Return what makes a Recorded of any row; `by_hand` as `fields_by_hand` gives it by model."""
    return {
        "model": record._meta.model_name,
        "pk": record.pk,
        "version": record.version,
        "values": {name: getattr(record, name) for name in names},
        "by_hand": (by_hand or {}).get(type(record), {}).get(record.pk, frozenset()),
    }
