"""Records that were set aside because they are of a person recorded elsewhere."""

from collections.abc import Iterable
from typing import Any

from django.db.models import Q, QuerySet

from register.domain.nhs_number import digits_of, formatted
from register.models import Patient, RecordTransfer, Site


def standing_for(patient: Patient) -> Patient | None:
    """Return the live record that a set-aside one was made one with; None when there is none."""
    seen = {patient.pk}
    found: Patient | None = patient
    while found is not None and found.voided_at is not None:
        merge = _merges().filter(from_patient=found).select_related("to_patient").first()
        found = merge.to_patient if merge and merge.to_patient_id not in seen else None
        seen |= {found.pk} if found else set()
    return found


def standing_numbers(aside: Iterable[int]) -> dict[int, str]:
    """Return the hospital numbers of the live records with which set-aside ones were made one.

    By the id of the one set aside; one query for each link of the longest chain.
    """
    asked = set(aside)
    became: dict[int, Patient] = {}
    wanted = set(asked)
    while wanted:
        merges = _merges().filter(from_patient__in=wanted).select_related("to_patient")
        found = {merge.from_patient_id: merge.to_patient for merge in merges}
        became |= found
        wanted = {to.pk for to in found.values() if to.voided_at is not None} - became.keys()
    numbers = {}
    for pk in asked:
        stands, seen = became.get(pk), {pk}
        while stands is not None and stands.voided_at is not None and stands.pk not in seen:
            seen.add(stands.pk)
            stands = became.get(stands.pk)
        if stands is not None and stands.voided_at is None:
            numbers[pk] = stands.hospital_number
    return numbers


def known_under(site: Site, number: str) -> list[Patient]:
    """Return the live records that are also known under this hospital number or NHS Number."""
    meant = Q(hospital_number__iexact=number.strip())
    digits = digits_of(number)
    if digits.isdigit():
        meant |= Q(nhs_number=digits)
    aside = Patient.objects.filter(meant, site=site, voided_at__isnull=False)
    return [found for found in map(standing_for, aside) if found is not None]


def other_numbers(patients: Iterable[Patient]) -> dict[int, list[str]]:
    """Return the numbers of records made one with these, by the id of the one that stands.

    One query for each link of the longest chain, however many patients there are.
    """
    people = {patient.pk: patient for patient in patients}
    standing = {pk: pk for pk in people}
    numbers: dict[int, list[str]] = {}
    reached = set(people)
    while reached:
        merges = _merges().filter(to_patient__in=reached).select_related("from_patient")
        reached = set()
        for merge in merges.order_by("pk"):
            aside, stands = merge.from_patient, standing[merge.to_patient_id]
            if aside.pk in standing:
                continue
            standing[aside.pk] = stands
            reached.add(aside.pk)
            found = numbers.setdefault(stands, [])
            found.append(aside.hospital_number)
            if aside.nhs_number and aside.nhs_number != people[stands].nhs_number:
                found.append(f"NHS Number {formatted(aside.nhs_number)}")
    return numbers


def with_other_numbers(patients: Iterable[Patient]) -> None:
    """Give each patient of a list `also`: the numbers of records that were made one with it."""
    people: list[Any] = list(patients)
    numbers = other_numbers(people)
    for patient in people:
        patient.also = numbers.get(patient.pk, [])


def _merges() -> QuerySet[RecordTransfer]:
    return RecordTransfer.objects.live().filter(kind="merge", undone_at=None)
