"""Who a page is about, in words: the identity strip of every single-patient page and PDF page."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Final, Protocol

from register.domain.days import NOT_RECORDED, age_years, day_words
from register.domain.nhs_number import formatted
from register.domain.vocabulary import ABSENT, SEX

_REASONS: Final = dict(ABSENT)


class PatientFacts(Protocol):
    """What is read of a patient row."""

    family_name: str
    given_name: str
    date_of_birth: date
    date_of_death: date | None
    sex: str
    nhs_number: str
    hospital_number: str
    language: str
    interpreter_needed: bool | None
    hearing_need: str
    sight_need: str
    capacity_note: str
    absent: Mapping[str, str]


class ReferralFacts(Protocol):
    """What is read of the latest referral."""

    allergies: str
    allergy_to_cement: bool | None
    allergy_to_contrast: bool | None
    allergy_to_latex: bool | None
    absent: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Identity:
    """The strip's words. Nothing is blank: an unknown item says so."""

    family_name: str
    given_name: str
    born: str
    age: str
    sex: str
    nhs_number: str
    hospital_number: str
    allergies: str
    needs: str

    @property
    def name(self) -> str:
        """FAMILY NAME, Given."""
        return f"{self.family_name}, {self.given_name}"


def identity_of(patient: PatientFacts, referral: ReferralFacts | None, on: date) -> Identity:
    """Return the identity of a patient as of a day; allergies come from the latest referral."""
    return Identity(
        family_name=patient.family_name.upper(),
        given_name=patient.given_name,
        born=day_words(patient.date_of_birth),
        age=_age(patient, on),
        sex=dict(SEX).get(patient.sex) or _why(patient.absent, "sex"),
        nhs_number=formatted(patient.nhs_number)
        if patient.nhs_number
        else _why(patient.absent, "nhs_number"),
        hospital_number=patient.hospital_number or NOT_RECORDED,
        allergies=_allergies(referral),
        needs=_needs(patient),
    )


def _age(patient: PatientFacts, on: date) -> str:
    if patient.date_of_death is None:
        return f"{age_years(patient.date_of_birth, on)} y"
    age = age_years(patient.date_of_birth, patient.date_of_death)
    return f"died {day_words(patient.date_of_death)}, {age} y"


def _allergies(referral: ReferralFacts | None) -> str:
    if referral is None:
        return NOT_RECORDED
    asked = {
        "bone cement": referral.allergy_to_cement,
        "contrast medium": referral.allergy_to_contrast,
        "latex": referral.allergy_to_latex,
    }
    told = [referral.allergies, *(name for name, answer in asked.items() if answer)]
    return ", ".join(word for word in told if word) or _why(referral.absent, "allergies")


def _needs(patient: PatientFacts) -> str:
    interpreter = f"interpreter ({patient.language or 'language not recorded'})"
    told = [
        interpreter if patient.interpreter_needed else "",
        patient.hearing_need,
        patient.sight_need,
        patient.capacity_note,
    ]
    return "; ".join(word for word in told if word) or "none recorded"


def _why(absent: Mapping[str, str], name: str) -> str:
    return _REASONS.get(absent.get(name, ""), NOT_RECORDED)
