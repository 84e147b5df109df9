"""Writing a patient and how to reach them."""

from collections.abc import Iterable, Mapping
from typing import Any

from register.history import acting, because
from register.models import Patient, PatientPhone, Site, User
from register.services.records import record_change, record_create, rows_write

Phones = Iterable[Mapping[str, Any]]


def patient_create(*, site: Site, user: User, phones: Phones = (), **fields: Any) -> Patient:
    """Make a patient with their telephone numbers. Raises ValidationError."""
    with acting(user, "New patient"):
        patient = record_create(
            record=Patient(site=site, **fields), user=user, reason="New patient"
        )
        phones_write(patient=patient, phones=phones, user=user)
    return patient


def patient_change(
    *,
    patient: Patient,
    expected_version: int,
    user: User,
    phones: Phones = (),
    why: str = "",
    **fields: Any,
) -> Patient:
    """Change a patient and the telephone numbers given. `why` stands in the history.

    Raises ValidationError, EditConflict.
    """
    reason = because("Details changed", why)
    with acting(user, reason):
        record_change(
            record=patient,
            expected_version=expected_version,
            user=user,
            reason=reason,
            fields=fields,
        )
        phones_write(patient=patient, phones=phones, user=user)
    return patient


def phones_write(*, patient: Patient, phones: Phones, user: User) -> list[PatientPhone]:
    """Write telephone numbers; one with `id` and `version` is changed or, with `remove`, voided."""
    with acting(user, "Telephone numbers"):
        return rows_write(kind=PatientPhone, owner={"patient": patient}, rows=phones, user=user)
