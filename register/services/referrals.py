"""Writing a referral: its facts, its drugs, its fractured levels; blood tests and bone density."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.timezone import localdate

from register.domain.vocabulary import LAB_UNIT
from register.history import acting, because
from register.models import (
    BoneDensity,
    Fracture,
    LaboratoryResult,
    Patient,
    Referral,
    ReferralDrug,
    User,
)
from register.services.records import record_change, record_create, record_void, rows_write

Rows = Iterable[Mapping[str, Any]]


def referral_create(
    *, patient: Patient, user: User, fractures: Rows, drugs: Rows = (), **fields: Any
) -> Referral:
    """Make a referral with its drugs and at least one fractured level.

    A fracture without an onset of its own begins with the referral's. Raises
    ValidationError: without a level nobody would see the referral waiting.
    """
    fractures = list(fractures)
    if not fractures:
        raise ValidationError("Give at least one level: the list of waiting goes by levels.")
    with acting(user, "New referral"):
        referral = Referral(patient=patient, **_with_urgency(fields, user, before=""))
        record_create(record=referral, user=user, reason="New referral")
        drugs_write(referral=referral, drugs=drugs, user=user)
        fractures_write(referral=referral, fractures=fractures, user=user)
    return referral


def referral_change(
    *,
    referral: Referral,
    expected_version: int,
    user: User,
    fractures: Rows = (),
    drugs: Rows = (),
    why: str = "",
    **fields: Any,
) -> Referral:
    """Change a referral, and the drugs and levels given. `why` stands in the history.

    A fracture that began when the referral said goes with a corrected onset.
    Raises ValidationError, EditConflict.
    """
    stored = Referral.objects.get(pk=referral.pk)
    reason = because("Referral changed", why)
    with acting(user, reason):
        record_change(
            record=referral,
            expected_version=expected_version,
            user=user,
            reason=reason,
            fields=_with_urgency(fields, user, before=stored.urgency),
        )
        drugs_write(referral=referral, drugs=drugs, user=user)
        fractures_write(referral=referral, fractures=fractures, user=user)
        _follow_onset(referral, before=stored, user=user)
    return referral


def drugs_write(*, referral: Referral, drugs: Rows, user: User) -> list[ReferralDrug]:
    """Write antithrombotic drugs. A named drug contradicts "takes none"."""
    with acting(user, "Drugs that thin the blood"):
        rows_write(kind=ReferralDrug, owner={"referral": referral}, rows=drugs, user=user)
        live = list(ReferralDrug.objects.live().filter(referral=referral))
        if live and referral.takes_antithrombotics is not True:
            raise ValidationError(
                {"takes_antithrombotics": "A drug is listed, so the answer here must be yes."}
            )
    return live


def fractures_write(*, referral: Referral, fractures: Rows, user: User) -> list[Fracture]:
    """Write the fractured levels of a referral; a new one takes its onset from the referral."""
    onset = {
        "onset_on": referral.onset_on,
        "onset_precision": referral.onset_precision,
    }
    rows = [dict(row) if row.get("id") else onset | dict(row) for row in fractures]
    owner = {"patient": referral.patient, "referral": referral}
    with acting(user, "Fractured levels"):
        return rows_write(kind=Fracture, owner=owner, rows=rows, user=user)


def fracture_change(
    *,
    fracture: Fracture,
    expected_version: int,
    user: User,
    reason: str = "",
    why: str = "",
    **fields: Any,
) -> Fracture:
    """Change one fracture. `why` stands in the history. Raises ValidationError, EditConflict."""
    return record_change(
        record=fracture,
        expected_version=expected_version,
        user=user,
        reason=because(reason or f"{fracture.level} fracture changed", why),
        fields=fields,
    )


def fracture_void(
    *, fracture: Fracture, expected_version: int, user: User, reason: str
) -> Fracture:
    """Set a fracture aside that was entered by mistake. Raises ValidationError, EditConflict.

    Refused once something was decided or done for it: then the record is true.
    """
    if fracture.state in ("listed", "treated"):
        raise ValidationError("This fracture is listed or treated. It cannot be set aside.")
    record_void(record=fracture, expected_version=expected_version, user=user, reason=reason)
    return fracture


@dataclass(frozen=True, slots=True)
class BloodTest:
    """What one blood test gave: values by test, in the register's units.

    `unusual` maps a test to the reason why its unlikely value is right.
    """

    taken_on: date
    values: Mapping[str, Decimal]
    unusual: Mapping[str, str] = field(default_factory=dict)


def laboratory_record(
    *,
    patient: Patient,
    taken_on: date,
    values: Mapping[str, Decimal],
    user: User,
    unusual: Mapping[str, str] | None = None,
    reason: str = "",
) -> list[LaboratoryResult]:
    """Record the values of one blood test; a value that stands there already is not repeated."""
    if not values:
        raise ValidationError("Enter at least one value.")
    with acting(user, reason or "Blood test recorded"):
        return [
            record_create(record=row, user=user, reason=reason or "Blood test recorded")
            for analyte, value in values.items()
            if (row := _new_result(patient, taken_on, analyte, value, unusual or {})) is not None
        ]


def blood_and_bone_record(
    *, patient: Patient, blood: Iterable[BloodTest], bones: Rows, user: User
) -> list[BoneDensity]:
    """Record blood tests and bone densities of one sitting, all or nothing; return the latter.

    Raises ValidationError when there is nothing to record, PartConflict about a bone density.
    """
    blood, bones = list(blood), list(bones)
    if not blood and not bones:
        raise ValidationError("Nothing was typed or changed. Enter a value, or leave the page.")
    with acting(user, "Blood tests and bone density"):
        for test in blood:
            laboratory_record(
                patient=patient,
                taken_on=test.taken_on,
                values=test.values,
                unusual=test.unusual,
                user=user,
            )
        owner = {"patient": patient}
        return rows_write(kind=BoneDensity, owner=owner, rows=bones, user=user)


def laboratory_change(
    *, result: LaboratoryResult, expected_version: int, user: User, why: str = "", **fields: Any
) -> LaboratoryResult:
    """Correct one value. `why` stands in the history. Raises ValidationError, EditConflict."""
    return record_change(
        record=result,
        expected_version=expected_version,
        user=user,
        reason=because(f"{result.get_analyte_display()} corrected", why),
        fields=fields,
    )


def _follow_onset(referral: Referral, *, before: Referral, user: User) -> None:
    """Move the fractures that began with the referral along with its corrected onset."""
    onset = {"onset_on": referral.onset_on, "onset_precision": referral.onset_precision}
    former = {"onset_on": before.onset_on, "onset_precision": before.onset_precision}
    if onset == former:
        return
    for fracture in Fracture.objects.live().filter(referral=referral, **former):
        fields: dict[str, Any] = dict(onset)
        if onset["onset_on"] is not None and "onset_on" in fracture.absent:
            fields["absent"] = {k: v for k, v in fracture.absent.items() if k != "onset_on"}
        fracture_change(
            fracture=fracture,
            expected_version=fracture.version,
            user=user,
            reason="Onset corrected on the referral",
            **fields,
        )


def _new_result(
    patient: Patient, taken_on: date, analyte: str, value: Decimal, unusual: Mapping[str, str]
) -> LaboratoryResult | None:
    there = LaboratoryResult.objects.live().filter(
        patient=patient, taken_on=taken_on, analyte=analyte, value=value
    )
    if there.exists():
        return None
    return LaboratoryResult(
        patient=patient,
        taken_on=taken_on,
        analyte=analyte,
        value=value,
        unit=LAB_UNIT[analyte],
        unusual={"value": unusual[analyte]} if analyte in unusual else {},
    )


def _with_urgency(fields: dict[str, Any], user: User, *, before: str) -> dict[str, Any]:
    """Add who set the urgency and when, if it is set or changed now."""
    now = fields.get("urgency", before)
    if now == before:
        return fields
    if not now:
        return fields | {"urgency_set_by": None, "urgency_set_on": None}
    return fields | {"urgency_set_by": user, "urgency_set_on": localdate()}
