"""The columns of a list of earlier procedures."""

from typing import Final

from register.domain import vocabulary as v
from register.forms.base import strict_field
from register.imports import cells
from register.imports.column import DAY, YES_NO, Column, answers, taken
from register.imports.people import identity_columns
from register.imports.procedures.cells import by_level, complications, leak
from register.models import CementUse, Fracture, Patient, Procedure, Referral

ROUTES: Final[v.Words] = tuple((code, said) for code, said in v.ROUTE if code in v.PROCEDURE_ROUTES)
_EACH: Final = "One answer for all levels, or each level with its own. "


def _number(name: str) -> cells.Reader:
    field = strict_field(CementUse._meta.get_field("volume_ml"), label=name)
    assert field is not None
    return cells.number(field)


COLUMNS: Final[tuple[Column, ...]] = (
    *identity_columns("hospital_number", "family_name", "given_name", "date_of_birth"),
    taken(Patient, "sex", "Sex", answers(v.SEX), example="female"),
    taken(Patient, "date_of_death", "Date of death", DAY),
    taken(Referral, "referred_on", "Referral date", DAY, example="02 Mar 2024"),
    taken(Fracture, "onset_on", "Onset date", "As the others; a month (Mar 2024) or a year alone "
        "is kept as such. Counts for each level of the row.", read=cells.uncertain_date,
        example="12 Feb 2024"),
    taken(Fracture, "cause", "Cause", answers(v.FRACTURE_CAUSE), example="osteoporotic"),
    taken(Procedure, "performed_on", "Procedure date", DAY, example="14 Mar 2024", needed=True),
    Column("Technique", "procedure", "technique", cells.words(120),
           "The name of a technique of this department, or one of: "
           + "; ".join(said for _, said in ROUTES) + ". Levels that were treated the same day in "
           "another way stand in a row of their own.", "balloon tamping and cement", needed=True),
    Column("Levels", "fracture", "levels", cells.levels,
           "Treated levels from T1 to L5 with blanks or commas between.", "T12, L1", needed=True),
    taken(Procedure, "operator_words", "Operator", "The name as the list has it."),
    taken(Procedure, "anaesthesia", "Anaesthesia", answers(v.ANAESTHESIA),
        example="local anaesthesia and sedation"),
    taken(Procedure, "level_check", "Level confirmed by", answers(v.LEVEL_CHECK)),
    taken(Procedure, "antibiotic", "Antibiotic", ""),
    Column("Side", "level", "side", by_level(cells.one_of(v.SIDE)), _EACH + answers(v.SIDE),
           "left and right", may_be_absent=True),
    Column("Approach", "level", "approach", by_level(cells.one_of(v.APPROACH)),
           _EACH + answers(v.APPROACH), "through the pedicle", may_be_absent=True),
    Column("Biopsy", "level", "biopsy_taken", by_level(cells.yes_or_no), _EACH + YES_NO,
           may_be_absent=True),
    Column("Cement mL", "level", "volume_ml", by_level(_number("Cement mL")),
           "All cement of a level in millilitres; with several levels each with its own.",
           "T12 4.5; L1 3.0", may_be_absent=True),
    Column("Leaks", "level", "leaks", by_level(leak, several=True),
           "Each level with where cement went, and the route in brackets if it is known; none "
           "where leaks were looked for and not seen. A level that is not named is not recorded. "
           "Places: " + "; ".join(w for _, w in v.LEAK_PLACE) + ". Routes: "
           + "; ".join(w for _, w in v.LEAK_ROUTE) + ".",
           "T12 epidural (basivertebral vein); L1 none", may_be_absent=True),
    Column("Leaks looked for on", "leak", "seen_on", cells.one_of(v.LEAK_SEEN_ON),
           answers(v.LEAK_SEEN_ON) + " Needed beside Leaks.", "fluoroscopy"),
    Column("Leak consequence", "leak", "consequence", cells.one_of(v.LEAK_CONSEQUENCE),
           answers(v.LEAK_CONSEQUENCE) + " With several leaks in the row only none, which "
           "counts for each.", "none"),
    Column("Complications", "procedure", "complication_check", complications,
           "Each with its day in brackets, and its grade if it is known; none where somebody "
           "asked. Any of: " + "; ".join(w for _, w in v.COMPLICATION) + ".",
           "infection (20 Mar 2024, II)", may_be_absent=True),
    taken(Procedure, "dose_area_gy_cm2", "Dose-area product Gy cm2", "In Gy·cm²; 1 Gy·cm² is "
        "1,000 mGy·cm², 100 cGy·cm² or 100 µGy·m².", example="12.5"),
    taken(Procedure, "fluoroscopy_s", "Fluoroscopy s", "Screening time in seconds.", example="95"),
    taken(Procedure, "discharged_on", "Discharged", DAY),
    taken(Procedure, "readmitted_on", "Readmitted", DAY),
    Column("Why unlikely", "procedure", "why_unlikely", cells.words(200),
           "Why a volume, dose or time is right that a form would ask about."),
    taken(Procedure, "note", "Note", "", read=cells.words(2000, lines=True)),
)  # fmt: skip
