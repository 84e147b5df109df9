"""What the register holds of the people in a referral file, and the verdicts that follow."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from django.db.models import Prefetch, QuerySet

from register.imports.people import KnownPeople
from register.imports.reading import ReadFile
from register.imports.referrals.columns import COLUMNS
from register.imports.referrals.judging import judge
from register.imports.referrals.known import KnownFracture, KnownPatient, KnownReferral
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
from register.selectors.import_people import (
    ByHand,
    people_as_recorded,
    people_meant,
    row_as_recorded,
)
from register.selectors.import_provenance import fields_by_hand

_OF_PATIENT: Final = tuple(c.field for c in COLUMNS if c.part == "patient")
_OF_REFERRAL: Final = (
    *(c.field for c in COLUMNS if c.part == "referral"),
    "onset_precision",
    "takes_antithrombotics",
    "absent",
)
_OF_FRACTURE: Final = ("tender", "matches_imaging", "onset_on", "onset_precision", "absent")


def judge_referrals(site_id: int, file: ReadFile) -> tuple[Verdict, ...]:
    """Return the verdict on each row of a referral file as the register stands now."""
    return judge(file, known_people(site_id, file.rows))


def known_people(site_id: int, rows: Sequence[ReferralRow]) -> KnownPeople[KnownPatient]:
    """Return the patients whom rows may mean, with all that a row is compared with.

    Thirteen queries however many rows there are, one more for each link of the longest
    chain of records that were made one.
    """
    meant = people_meant(site_id, (row.patient for row in rows))
    return KnownPeople.of(_all_known(list(_with_records(meant))))


def _with_records(ids: Iterable[int]) -> QuerySet[Patient]:
    """Return the patients with the columns that are compared, of all that a file may bring."""
    drug = ReferralDrug.objects.live().only("referral", "drug", "indication")
    drugs = Prefetch("drugs", drug, to_attr="live_drugs")
    phone = PatientPhone.objects.live().only("patient", "number")
    fracture = Fracture.objects.live().select_related("referral")
    fracture = fracture.only(
        "patient", "version", "level", "state", *_OF_FRACTURE, "referral__referred_on"
    )
    blood = LaboratoryResult.objects.live().only("patient", "analyte", "taken_on", "value")
    return Patient.objects.filter(pk__in=list(ids)).prefetch_related(
        Prefetch("phones", phone, to_attr="live_phones"),
        Prefetch("referrals", Referral.objects.live().prefetch_related(drugs), to_attr="written"),
        Prefetch("fractures", fracture, to_attr="broken"),
        Prefetch("laboratory_results", blood, to_attr="blood"),
    )


def _all_known(patients: Sequence[Any]) -> list[KnownPatient]:
    """Return the patients as plain values, with what a person put there."""
    referrals = [referral for patient in patients for referral in patient.written]
    fractures = [fracture for patient in patients for fracture in patient.broken]
    by_hand = {
        Patient: fields_by_hand(Patient, [patient.pk for patient in patients]),
        Referral: fields_by_hand(Referral, [referral.pk for referral in referrals]),
        Fracture: fields_by_hand(Fracture, [fracture.pk for fracture in fractures]),
    }
    people = people_as_recorded(patients, more=(*_OF_PATIENT, "absent"), by_hand=by_hand)
    return [_known(patient, people[patient.pk], by_hand) for patient in patients]


def _known(patient: Any, person: Mapping[str, Any], by_hand: ByHand) -> KnownPatient:
    fractures = tuple((f.referral_id, _known_fracture(f, by_hand)) for f in patient.broken)
    by_referral: dict[int, dict[str, KnownFracture]] = defaultdict(dict)
    for referral_id, fracture in fractures:
        by_referral[referral_id][fracture.level] = fracture
    return KnownPatient(
        **person,
        phones=tuple(phone.number for phone in patient.live_phones),
        referrals=tuple(_known_referral(r, by_referral[r.pk], by_hand) for r in patient.written),
        fractures=tuple(fracture for _, fracture in fractures),
        laboratory=frozenset((b.analyte, b.taken_on, b.value) for b in patient.blood),
    )


def _known_referral(
    referral: Any, levels: dict[str, KnownFracture], by_hand: ByHand
) -> KnownReferral:
    return KnownReferral(
        **row_as_recorded(referral, _OF_REFERRAL, by_hand),
        referred_on=referral.referred_on,
        drugs=frozenset((d.drug, d.indication) for d in referral.live_drugs),
        levels=levels,
    )


def _known_fracture(fracture: Fracture, by_hand: ByHand) -> KnownFracture:
    return KnownFracture(
        **row_as_recorded(fracture, _OF_FRACTURE, by_hand),
        level=fracture.level,
        state=fracture.state,
        onset_on=fracture.onset_on,
        referred_on=fracture.referral.referred_on if fracture.referral else None,
    )
