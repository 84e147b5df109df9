"""The columns of a referral file."""

from typing import Final

from register.domain import vocabulary as v
from register.forms.laboratory import value_field
from register.imports import cells
from register.imports.column import DAY, YES_NO, Column, answers, some, taken
from register.imports.people import identity_columns
from register.models import Patient, Referral


def _laboratory(analyte: str, name: str) -> Column:
    unit = v.LAB_UNIT[analyte]
    asks = "A ratio, without unit." if unit == "ratio" else f"In {unit}, the number alone."
    return Column(name, "laboratory", analyte, cells.number(value_field(analyte, name)), asks)


COLUMNS: Final[tuple[Column, ...]] = (
    *identity_columns("hospital_number", "family_name", "given_name", "date_of_birth"),
    taken(Patient, "sex", "Sex", answers(v.SEX), example="female"),
    Column("Telephone", "phone", "number", cells.telephone, "One number.", "01632 960123"),
    taken(Patient, "address", "Address", "", example="2 Millrace Lane, Harrowmere"),
    taken(Patient, "postcode", "Postcode", "", example="XH1 1AA"),
    taken(Patient, "care_home", "Care home", ""),
    taken(Patient, "practitioner_name", "General practitioner", ""),
    taken(Patient, "practice_name", "Practice", "", example="Millrace Surgery"),
    taken(Patient, "language", "Language", "When not English."),
    taken(Patient, "interpreter_needed", "Interpreter needed", YES_NO),
    taken(Referral, "referred_on", "Referral date", DAY, example="04 Mar 2027", needed=True),
    taken(Referral, "received_on", "Received date", "When this department got it."),
    taken(Referral, "source", "Source", answers(v.REFERRAL_SOURCE), example="hospital ward"),
    taken(Referral, "referrer_name", "Referrer", ""),
    taken(Referral, "is_inpatient", "In hospital", YES_NO, example="yes"),
    Column("Levels", "fracture", "levels", cells.levels,
           "Fractured levels from T1 to L5 with blanks between.", "T12 L1", needed=True),
    taken(Referral, "onset_on", "Onset date", "As the others; a month (Mar 2027) or a year alone "
        "is kept as such.", read=cells.uncertain_date, example="12 Feb 2027"),
    taken(Referral, "mechanism", "Mechanism", answers(v.MECHANISM), example="low"),
    taken(Referral, "pain_rest", "Pain at rest", "0 to 10.", example="4"),
    taken(Referral, "pain_moving", "Pain on movement", "0 to 10.", example="8"),
    taken(Referral, "pain_trend", "Pain trend", answers(v.PAIN_TREND), example="unchanged"),
    Column("Tender", "fracture", "tender", cells.yes_or_no,
           "Tender over the level. Counts for each level of the row. Yes or no.", "yes",
           may_be_absent=True),
    Column("Matches image", "fracture", "matches_imaging", cells.yes_or_no,
           "The greatest pain lies where the image shows the fracture. Counts for each level "
           "of the row. Yes or no.", "yes", may_be_absent=True),
    taken(Referral, "analgesic_step", "Analgesic step", answers(v.ANALGESIC_STEP),
        example="weak opioid"),
    taken(Referral, "analgesia_tried", "Analgesia tried", ""),
    taken(Referral, "analgesia_days", "Days of analgesia", "A whole number.", example="14"),
    taken(Referral, "analgesia_optimal", "Analgesia optimal", YES_NO, example="yes"),
    taken(Referral, "failure_criteria", "Signs of failure", some(v.FAILURE_CRITERION),
        read=cells.some_of(v.FAILURE_CRITERION), example="not walking"),
    taken(Referral, "mobility", "Mobility", answers(v.MOBILITY), example="walks with an aid"),
    taken(Referral, "neurology", "Neurology", answers(v.NEUROLOGY), example="N0"),
    taken(Referral, "weight_kg", "Weight kg", "In kilograms.", example="61.5"),
    taken(Referral, "height_cm", "Height cm", "In centimetres.", example="158"),
    taken(Referral, "asa_grade", "ASA", answers(v.ASA), example="3"),
    Column("Blood thinners", "drugs", "takes_antithrombotics", cells.drugs,
           "Each drug with its reason in brackets and a semicolon between, or none.",
           "apixaban (atrial fibrillation)", may_be_absent=True),
    taken(Referral, "allergies", "Allergies", "", example="penicillin"),
    taken(Referral, "allergy_to_cement", "Allergy to cement", YES_NO, example="no"),
    taken(Referral, "allergy_to_contrast", "Allergy to contrast", YES_NO, example="no"),
    taken(Referral, "cancer_history", "Cancer", answers(v.CANCER_HISTORY), example="no"),
    taken(Referral, "infection_state", "Infection", answers(v.INFECTION_STATE),
        example="no infection known"),
    taken(Referral, "infection_signs", "Infection signs", some(v.INFECTION_SIGN),
        read=cells.some_of(v.INFECTION_SIGN), example="none"),
    taken(Referral, "takes_steroids", "Steroids", YES_NO, example="no"),
    taken(Referral, "pregnancy", "Pregnancy", answers(v.PREGNANCY)),
    Column("Blood test date", "laboratory", "taken_on", cells.a_date,
           "Needed beside any blood value.", "03 Mar 2027"),
    _laboratory("inr", "INR"),
    _laboratory("platelets", "Platelets"),
    _laboratory("haemoglobin", "Haemoglobin"),
    _laboratory("crp", "C-reactive protein"),
    _laboratory("creatinine_clearance", "Creatinine clearance"),
    taken(Referral, "note", "Note", "", read=cells.words(2000, lines=True)),
)  # fmt: skip
