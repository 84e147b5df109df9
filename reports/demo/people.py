"""The people of the scenario: staff, patients, and what is known of their health."""

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random
from typing import Any

from reports.demo import names, parameters
from reports.demo.book import Book, Row, between, leave_out, pick

STAFF = (
    ("consultant", "consultant", "Ines", "Harrowgill", "Consultant, spinal intervention"),
    ("consultant2", "consultant", "Tobias", "Netherkeld", "Consultant, spinal intervention"),
    ("nurse", "nurse", "Adaeze", "Fenthwaite", "Specialist nurse"),
    ("lead", "lead", "Rhian", "Marlstead", "Governance lead"),
    ("admin", "administrator", "Callum", "Quarnshaw", "Register administrator"),
)
# Share of patients whose field is empty; all invented.
PATIENT_GAPS = {
    "nhs_number": 0.03,
    "practitioner_name": 0.04,
    "interpreter_needed": 0.12,
    "address": 0.02,
}


@dataclass(frozen=True)
class Profile:
    """What is true of a patient, whether or not anybody wrote it down."""

    cause: str
    sex: str
    age: int
    asa_grade: str
    height_factor: float


def draw_profile(rng: Random, *, cause: str = "", sex: str = "", age: int = 0) -> Profile:
    """Draw a patient; what is given is kept."""
    cause = cause or pick(rng, parameters.CAUSE.value)
    women = {"trauma": 0.3, "infection": 0.45, "tumour": 0.5}
    sex = sex or ("female" if rng.random() < women.get(cause, parameters.WOMEN.value) else "male")
    usual = {"trauma": (36, 9, 19, 54), "infection": (66, 8, 48, 84), "tumour": (69, 7, 51, 85)}
    age = age or round(between(rng, *usual.get(cause, parameters.AGE.value)))
    asa = pick(rng, parameters.ASA.value) if age > 54 else rng.choice("12")
    return Profile(cause, sex, age, asa, between(rng, 1.0, 0.05, 0.88, 1.12))


def add_staff(book: Book) -> dict[str, Row]:
    """Write the site and its people; return them by user name, the site as "site"."""
    site = book.add(
        "site",
        name="Harrowmere General Hospital",
        code="harrowmere",
        urgent_instruction="Ring the spinal surgeon on call now: 01632 960999.",
    )
    staff = {
        username: book.add(
            "user",
            username=username,
            role=role,
            first_name=first,
            last_name=last,
            job_title=job,
            site=site,
        )
        for username, role, first, last, job in STAFF
    }
    return {"site": site} | staff


def add_patient(
    book: Book, rng: Random, site: Row, profile: Profile, *, on: date, offset: int = 0
) -> Row:
    """Write a patient who has the age of the profile on a day, with telephone numbers.

    `offset` keeps the numbers of another set of people apart.
    """
    number = len(book.of("patient")) + 1 + offset
    given = names.given_name(rng, profile.sex, young=profile.age < 55)
    address, postcode = names.address(rng)
    practice, practice_address = rng.choice(names.PRACTICES)
    born = on - timedelta(days=profile.age * 365 + profile.age // 4 + rng.randint(1, 364))
    fields: dict[str, Any] = {
        "site": site,
        "hospital_number": f"HG{300_000 + number * 137}",
        "nhs_number": names.nhs_number(number),
        "family_name": names.family_name(number),
        "given_name": given,
        "date_of_birth": born,
        "sex": profile.sex,
        "address": address,
        "postcode": postcode,
        "practitioner_name": names.doctor(rng, number + 400),
        "practice_name": practice,
        "practice_address": practice_address,
        "interpreter_needed": given in names.LANGUAGES and rng.random() < 0.6,
        "alive_checked_on": on,
    }
    patient = book.add(
        "patient",
        **leave_out(rng, fields | _circumstances(rng, profile, given), PATIENT_GAPS),
    )
    _add_telephones(book, rng, patient)
    return patient


def _circumstances(rng: Random, profile: Profile, given: str) -> dict[str, Any]:
    old = profile.age > 70
    fields: dict[str, Any] = {"language": names.LANGUAGES.get(given, "")}
    if old and rng.random() < 0.7:
        relation = rng.choice(("daughter", "son", "husband", "wife", "niece", "neighbour"))
        kin = names.given_name(rng, rng.choice(("female", "male")))
        fields |= {
            "kin_name": f"{kin} {names.family_name(rng.randint(1, 600))}",
            "kin_relation": relation,
        }
    if old and rng.random() < parameters.CARE_HOME.value:
        fields["care_home"] = rng.choice(names.CARE_HOMES)
    if old and rng.random() < 0.16:
        fields["hearing_need"] = rng.choice(("hearing aid, left", "hears poorly on the telephone"))
    if old and rng.random() < 0.07:
        fields["sight_need"] = "large print"
    if old and rng.random() < 0.05:
        fields["capacity_note"] = "Mild dementia: ask the next of kin to be present."
    if rng.random() < 0.03:
        fields["objects_to_other_use"] = True
    return fields


def _add_telephones(book: Book, rng: Random, patient: Row) -> None:
    for mobile in (False, True):
        if rng.random() > (0.85 if not mobile else 0.5):
            continue
        book.add(
            "patientphone",
            patient=patient,
            number=names.telephone(len(book.of("patientphone")) + 1, mobile=mobile),
            kind="mobile" if mobile else "home",
            times=rng.choice(("", "", "after 10:00", "afternoons", "not on Tuesdays")),
            message_allowed=rng.choice((True, True, True, False, None)),
        )
    if patient.get("kin_name") and rng.random() < 0.5:
        book.add(
            "patientphone",
            patient=patient,
            number=names.telephone(len(book.of("patientphone")) + 1, mobile=True),
            kind="carer",
            times="",
            message_allowed=True,
        )
