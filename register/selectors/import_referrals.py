"""What the register holds of the people in a referral file, and the verdicts that follow."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any, Final

from django.db.models import Prefetch, QuerySet

from register.imports.reading import ReadFile
from register.imports.referrals.columns import COLUMNS
from register.imports.referrals.judging import judge
from register.imports.referrals.known import (
    KnownFracture,
    KnownPatient,
    KnownPeople,
    KnownReferral,
    bare,
    name_and_birth,
)
from register.imports.referrals.rows import ReferralRow
from register.imports.verdicts import Verdict
from register.models import (
    Fracture,
    LaboratoryResult,
    Patient,
    PatientPhone,
    Referral,
    ReferralDrug,
)

_OF_PATIENT: Final = tuple(c.field for c in COLUMNS if c.part == "patient")
_OF_REFERRAL: Final = (
    *(c.field for c in COLUMNS if c.part == "referral"),
    "onset_precision",
    "takes_antithrombotics",
    "absent",
)
_OF_FRACTURE: Final = ("tender", "matches_imaging", "absent")
_IDENTITY: Final = (
    "hospital_number", "nhs_number", "family_name", "given_name", "date_of_birth",
)  # fmt: skip


def judge_referrals(site_id: int, file: ReadFile) -> tuple[Verdict, ...]:
    """Return the verdict on each row of a referral file as the register stands now."""
    return judge(file, known_people(site_id, file.rows))


def known_people(site_id: int, rows: Sequence[ReferralRow]) -> KnownPeople:
    """Return the patients whom rows may mean, with all that a row is compared with.

    Seven queries however many rows there are. Records that were set aside are
    among them, since their numbers are taken.
    """
    numbers = {row.patient.get("nhs_number", "") for row in rows} - {""}
    hospital = {bare(row.patient["hospital_number"]) for row in rows}
    names = {name_and_birth(row.patient) for row in rows}
    everybody = Patient.objects.filter(site=site_id).values("id", *_IDENTITY)
    meant = [
        person["id"]
        for person in everybody
        if person["nhs_number"] in numbers
        or bare(person["hospital_number"]) in hospital
        or name_and_birth(person) in names
    ]
    return KnownPeople.of(_known(patient) for patient in _with_records(meant))


def _with_records(ids: Iterable[int]) -> QuerySet[Patient]:
    drugs = Prefetch("drugs", ReferralDrug.objects.live(), to_attr="live_drugs")
    return Patient.objects.filter(pk__in=list(ids)).prefetch_related(
        Prefetch("phones", PatientPhone.objects.live(), to_attr="live_phones"),
        Prefetch("referrals", Referral.objects.live().prefetch_related(drugs), to_attr="written"),
        Prefetch("fractures", Fracture.objects.live().select_related("referral"), to_attr="broken"),
        Prefetch("laboratory_results", LaboratoryResult.objects.live(), to_attr="blood"),
    )


def _known(patient: Any) -> KnownPatient:
    fractures = tuple((f.referral_id, _known_fracture(f)) for f in patient.broken)
    by_referral: dict[int, dict[str, KnownFracture]] = defaultdict(dict)
    for referral_id, fracture in fractures:
        by_referral[referral_id][fracture.level] = fracture
    return KnownPatient(
        id=patient.pk,
        values={name: getattr(patient, name) for name in (*_OF_PATIENT, "date_of_death")},
        phones=tuple(phone.number for phone in patient.live_phones),
        set_aside=patient.voided_at is not None,
        referrals=tuple(_known_referral(r, by_referral[r.pk]) for r in patient.written),
        fractures=tuple(fracture for _, fracture in fractures),
        laboratory=frozenset((b.analyte, b.taken_on, b.value) for b in patient.blood),
    )


def _known_referral(referral: Any, levels: dict[str, KnownFracture]) -> KnownReferral:
    return KnownReferral(
        referred_on=referral.referred_on,
        values={name: getattr(referral, name) for name in _OF_REFERRAL},
        drugs=frozenset((d.drug, d.indication) for d in referral.live_drugs),
        levels=levels,
    )


def _known_fracture(fracture: Fracture) -> KnownFracture:
    return KnownFracture(
        level=fracture.level,
        waits=fracture.state in ("waiting", "listed"),
        onset_on=fracture.onset_on,
        referred_on=fracture.referral.referred_on if fracture.referral else None,
        values={name: getattr(fracture, name) for name in _OF_FRACTURE},
    )
