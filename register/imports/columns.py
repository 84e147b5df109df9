"""The columns of a referral file: their names, how each cell is read, where the value goes."""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any, Final

from django.db import models

from register.domain import vocabulary as v
from register.forms.base import strict_field
from register.forms.laboratory import value_field
from register.imports import cells
from register.imports.decoding import FileRefused
from register.imports.table import REASON, plain_name, repeated
from register.models import Patient, Referral


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `part` and `field` say where a value goes; `needed` cells are never blank.

    `may_be_absent`: the cell may hold one of the four reasons instead of a value.
    """

    name: str
    part: str
    field: str
    read: cells.Reader
    asks: str
    example: str = ""
    needed: bool = False
    may_be_absent: bool = False

    @property
    def plain(self) -> str:
        """The name as it is compared with the head of a file."""
        return plain_name(self.name)


def _of(model: type[models.Model], field: str, name: str, asks: str, **more: Any) -> Column:
    """Return the column of a model's field, read by the field's kind and limits."""
    column = model._meta.get_field(field)
    part = model._meta.model_name or ""
    if "read" not in more:
        more["read"] = _reader(column, name)
    return Column(
        name, part, field, asks=asks,
        may_be_absent=field in getattr(model, "MAY_BE_ABSENT", ()), **more,
    )  # fmt: skip


def _reader(column: Any, name: str) -> cells.Reader:
    match column:
        case models.BooleanField():
            return cells.yes_or_no
        case models.IntegerField() | models.DecimalField():
            field = strict_field(column, label=name)
            assert field is not None
            return cells.number(field)
        case models.DateField():
            return cells.a_date
        case models.CharField() if column.choices:
            return cells.one_of(tuple((str(code), str(said)) for code, said in column.choices))
        case models.CharField():
            return cells.words(column.max_length or 200)
    raise TypeError(f"{name}: say how to read it.")


def _answers(vocabulary: v.Words) -> str:
    return "One of: " + "; ".join(words for _, words in vocabulary) + "."


def _some(vocabulary: v.Words) -> str:
    return "Any of these, with a semicolon between: " + "; ".join(w for _, w in vocabulary) + "."


def _laboratory(analyte: str, name: str) -> Column:
    unit = v.LAB_UNIT[analyte]
    asks = "A ratio, without unit." if unit == "ratio" else f"In {unit}, the number alone."
    return Column(name, "laboratory", analyte, cells.number(value_field(analyte, name)), asks)


_DAY: Final = "04 Mar 2027, or 2027-03-04, or in figures in the order you declare."
_YES_NO: Final = "Yes or no."

COLUMNS: Final[tuple[Column, ...]] = (
    _of(Patient, "hospital_number", "Hospital number", "Kept as text, with its zeros in front.",
        read=cells.identifier(24), example="H104711", needed=True),
    _of(Patient, "nhs_number", "NHS Number", "Ten digits; spaces and dashes may stand between.",
        read=cells.nhs_number, example="999 000 0018"),
    _of(Patient, "family_name", "Family name", "", example="Ashbeck", needed=True),
    _of(Patient, "given_name", "Given name", "", example="Maud", needed=True),
    _of(Patient, "date_of_birth", "Date of birth", _DAY, example="14 May 1942", needed=True),
    _of(Patient, "sex", "Sex", _answers(v.SEX), example="female"),
    Column("Telephone", "phone", "number", cells.telephone, "One number.", "01632 960123"),
    _of(Patient, "address", "Address", "", example="2 Millrace Lane, Harrowmere"),
    _of(Patient, "postcode", "Postcode", "", example="XH1 1AA"),
    _of(Patient, "care_home", "Care home", ""),
    _of(Patient, "practitioner_name", "General practitioner", ""),
    _of(Patient, "practice_name", "Practice", "", example="Millrace Surgery"),
    _of(Patient, "language", "Language", "When not English."),
    _of(Patient, "interpreter_needed", "Interpreter needed", _YES_NO),
    _of(Referral, "referred_on", "Referral date", _DAY, example="04 Mar 2027", needed=True),
    _of(Referral, "received_on", "Received date", "When this department got it."),
    _of(Referral, "source", "Source", _answers(v.REFERRAL_SOURCE), example="hospital ward"),
    _of(Referral, "referrer_name", "Referrer", ""),
    _of(Referral, "is_inpatient", "In hospital", _YES_NO, example="yes"),
    Column("Levels", "fracture", "levels", cells.levels,
           "Fractured levels from T1 to L5 with blanks between.", "T12 L1", needed=True),
    _of(Referral, "onset_on", "Onset date", "As the others; a month (Mar 2027) or a year alone "
        "is kept as such.", read=cells.uncertain_date, example="12 Feb 2027"),
    _of(Referral, "mechanism", "Mechanism", _answers(v.MECHANISM), example="low"),
    _of(Referral, "pain_rest", "Pain at rest", "0 to 10.", example="4"),
    _of(Referral, "pain_moving", "Pain on movement", "0 to 10.", example="8"),
    _of(Referral, "pain_trend", "Pain trend", _answers(v.PAIN_TREND), example="unchanged"),
    Column("Tender", "fracture", "tender", cells.yes_or_no,
           "Tender over the level. Counts for each level of the row. Yes or no.", "yes",
           may_be_absent=True),
    Column("Matches image", "fracture", "matches_imaging", cells.yes_or_no,
           "The greatest pain lies where the image shows the fracture. Counts for each level "
           "of the row. Yes or no.", "yes", may_be_absent=True),
    _of(Referral, "analgesic_step", "Analgesic step", _answers(v.ANALGESIC_STEP),
        example="weak opioid"),
    _of(Referral, "analgesia_tried", "Analgesia tried", ""),
    _of(Referral, "analgesia_days", "Days of analgesia", "A whole number.", example="14"),
    _of(Referral, "analgesia_optimal", "Analgesia optimal", _YES_NO, example="yes"),
    _of(Referral, "failure_criteria", "Signs of failure", _some(v.FAILURE_CRITERION),
        read=cells.some_of(v.FAILURE_CRITERION), example="not walking"),
    _of(Referral, "mobility", "Mobility", _answers(v.MOBILITY), example="walks with an aid"),
    _of(Referral, "neurology", "Neurology", _answers(v.NEUROLOGY), example="N0"),
    _of(Referral, "weight_kg", "Weight kg", "In kilograms.", example="61.5"),
    _of(Referral, "height_cm", "Height cm", "In centimetres.", example="158"),
    _of(Referral, "asa_grade", "ASA", _answers(v.ASA), example="3"),
    Column("Blood thinners", "drugs", "takes_antithrombotics", cells.drugs,
           "Each drug with its reason in brackets and a semicolon between, or none.",
           "apixaban (atrial fibrillation)", may_be_absent=True),
    _of(Referral, "allergies", "Allergies", "", example="penicillin"),
    _of(Referral, "allergy_to_cement", "Allergy to cement", _YES_NO, example="no"),
    _of(Referral, "allergy_to_contrast", "Allergy to contrast", _YES_NO, example="no"),
    _of(Referral, "cancer_history", "Cancer", _answers(v.CANCER_HISTORY), example="no"),
    _of(Referral, "infection_state", "Infection", _answers(v.INFECTION_STATE),
        example="no infection known"),
    _of(Referral, "infection_signs", "Infection signs", _some(v.INFECTION_SIGN),
        read=cells.some_of(v.INFECTION_SIGN), example="none"),
    _of(Referral, "takes_steroids", "Steroids", _YES_NO, example="no"),
    _of(Referral, "pregnancy", "Pregnancy", _answers(v.PREGNANCY)),
    Column("Blood test date", "laboratory", "taken_on", cells.a_date,
           "Needed beside any blood value.", "03 Mar 2027"),
    _laboratory("inr", "INR"),
    _laboratory("platelets", "Platelets"),
    _laboratory("haemoglobin", "Haemoglobin"),
    _laboratory("crp", "C-reactive protein"),
    _laboratory("creatinine_clearance", "Creatinine clearance"),
    _of(Referral, "note", "Note", "", read=cells.words(2000, lines=True)),
)  # fmt: skip

_BY_NAME: Final = {column.plain: column for column in COLUMNS}
NAMES: Final = frozenset(_BY_NAME)


@dataclass(frozen=True, slots=True)
class Head:
    """The head of one file: the column at each place (None is not read), and what is not read."""

    places: tuple[Column | None, ...]
    unknown: tuple[str, ...]
    not_given: tuple[str, ...]


def head_of(names: Sequence[str]) -> Head:
    """Match the head of a file with the columns.

    Raises FileRefused when a needed column is missing or a known one stands twice.
    """
    plain = [plain_name(name) for name in names]
    if twice := [name for name in repeated(plain) if name in _BY_NAME]:
        columns = ", ".join(_BY_NAME[name].name for name in twice)
        raise FileRefused(f"A column stands twice: {columns}. Remove one of the two.")
    missing = [c.name for c in COLUMNS if c.needed and c.plain not in plain]
    known = _BY_NAME.keys() | {plain_name(REASON)}
    unknown = [name for name in names if name and plain_name(name) not in known]
    if missing:
        raise FileRefused(f"{_missing(missing)} {_not_known(unknown)}".strip())
    return Head(
        places=tuple(_BY_NAME.get(name) for name in plain),
        unknown=tuple(_unknown(name, plain) for name in unknown),
        not_given=tuple(c.name for c in COLUMNS if c.plain not in plain),
    )


def _missing(names: Sequence[str]) -> str:
    if len(names) == 1:
        return f"The column “{names[0]}” is missing. Add it, spelt like this."
    return f"These columns are missing: {', '.join(names)}. Add them, spelt like this."


def _not_known(names: Sequence[str]) -> str:
    return f"Not known here: {', '.join(names)}." if names else ""


def _unknown(name: str, given: Sequence[str]) -> str:
    """Return the unknown name, with the column that may have been meant."""
    free = [plain for plain in _BY_NAME if plain not in given]
    near = get_close_matches(plain_name(name), free, n=1, cutoff=0.75)
    return f"{name} (perhaps “{_BY_NAME[near[0]].name}” is meant)" if near else name
