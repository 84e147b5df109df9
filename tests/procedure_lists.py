"""Lists of earlier procedures for tests: one true row, and ways to write it down."""

from datetime import date
from typing import Any

from register.imports.people import KnownPeople
from register.imports.procedures.columns import COLUMNS
from register.imports.procedures.judging import judge
from register.imports.procedures.kind import PROCEDURES
from register.imports.procedures.known import (
    KnownLevel,
    KnownPatient,
    KnownProcedure,
    KnownTechnique,
)
from register.imports.reading import read_file
from register.imports.referrals.known import KnownFracture
from register.imports.weighing import Recorded
from tests.factories import nhs_number
from tests.referral_files import TODAY as TODAY
from tests.referral_files import written as file_of

NHS = nhs_number(920)
BALLOON = KnownTechnique(1, "Balloon tamping", "balloon")
CEMENT = KnownTechnique(2, "Cement alone", "cement")
DONE = date(2025, 3, 14)
# A row with everything.
CELLS: dict[str, str] = {
    "Hospital number": "H00204711",
    "NHS Number": NHS,
    "Family name": "Oatfell",
    "Given name": "Ida",
    "Date of birth": "11 May 1942",
    "Sex": "female",
    "Referral date": "02 Mar 2025",
    "Onset date": "12 Feb 2025",
    "Cause": "osteoporotic",
    "Procedure date": "14 Mar 2025",
    "Technique": "balloon tamping and cement",
    "Levels": "T12, L1",
    "Operator": "R. Inkpen",
    "Anaesthesia": "local anaesthesia and sedation",
    "Level confirmed by": "counted up from the sacrum",
    "Antibiotic": "cefazolin",
    "Side": "T12 left; L1 left and right",
    "Approach": "through the pedicle",
    "Biopsy": "no",
    "Cement mL": "T12 4.5; L1 3.0",
    "Leaks": "T12 epidural (basivertebral vein); T12 disc above; L1 none",
    "Leaks looked for on": "fluoroscopy",
    "Leak consequence": "none",
    "Complications": "infection (20 Mar 2025, II)",
    "Dose-area product Gy cm2": "12.5",
    "Fluoroscopy s": "95",
    "Discharged": "15 Mar 2025",
    "Readmitted": "21 Mar 2025",
    "Note": "From the department's old list.",
}
# A row with what is needed and nothing else.
NEEDED = (
    "Hospital number", "Family name", "Given name", "Date of birth", "Procedure date",
    "Technique", "Levels",
)  # fmt: skip
BARE = {name: CELLS[name] for name in NEEDED}


def row(base: dict[str, str] = CELLS, /, **cells: Any) -> dict[str, str]:
    """Return a row with some cells spelt otherwise: Cement_mL="4"."""
    return base | {name.replace("_", " "): value for name, value in cells.items()}


def another(**cells: Any) -> dict[str, str]:
    """Return a bare row of a second patient."""
    own = {"Hospital_number": "H00204999", "Family_name": "Pellwick", "Given_name": "Beryl"}
    return row(BARE, **own | cells)


def listed(*rows: dict[str, str]) -> bytes:
    """Return a file with these rows and every column."""
    return file_of(rows, names=[column.name for column in COLUMNS])


def read(*rows):
    return read_file(listed(*rows), kind=PROCEDURES, date_order="dmy", today=TODAY)


def line_of(cells):
    return read(cells).lines[0]


# The same people as the register holds them.
IDENTITY = {
    "hospital_number": "H00204711", "nhs_number": NHS, "family_name": "Oatfell",
    "given_name": "Ida", "date_of_birth": date(1942, 5, 11), "sex": "female",
    "date_of_death": None, "absent": {},
}  # fmt: skip


def person(*, died_on=None, **more):
    values = IDENTITY | {"date_of_death": died_on}
    return KnownPatient(model="patient", pk=7, version=1, values=values, **more)


def fracture(
    level="T12", *, pk=20, state="waiting", onset=None, precision="day", referred=None, cause="",
    by_hand=frozenset(),
):  # fmt: skip
    values = {"cause": cause, "onset_on": onset, "onset_precision": precision if onset else "",
              "absent": {}}  # fmt: skip
    return KnownFracture(
        model="fracture", pk=pk, version=1, values=values, by_hand=by_hand, level=level,
        state=state, onset_on=onset, referred_on=referred,
    )  # fmt: skip


def procedure(
    *levels, on=DONE, pk=30, state="earlier", technique=BALLOON, operator="", trouble=(), **values
):
    """Return a recorded procedure; `levels` are names, or levels made by `treated`."""
    blank = dict.fromkeys((c.field for c in PROCEDURES.columns if c.part == "procedure"), "")
    blank |= dict.fromkeys(("dose_area_gy_cm2", "fluoroscopy_s", "discharged_on"), None)
    blank |= {"readmitted_on": None, "performed_on": on, "absent": {}, "unusual": {}}
    made = [treated(level) if isinstance(level, str) else level for level in levels]
    return KnownProcedure(
        model="procedure", pk=pk, version=2, values=blank | values, performed_on=on,
        technique=technique, state=state, operator=operator, complications=tuple(trouble),
        levels={level.fracture.level: level for level in made},
    )  # fmt: skip


def treated(level, *, leaks=(), **values):
    """Return a treated level, by its name or with its fracture."""
    blank = {"side": "", "approach": "", "biopsy_taken": None, "leak_check": "",
             "leak_checked_on": "", "absent": {}}  # fmt: skip
    broken = fracture(level, state="treated") if isinstance(level, str) else level
    return KnownLevel(
        model="treatedlevel", pk=40, version=1, values=blank | values, fracture=broken,
        leaks=tuple(leaks),
    )  # fmt: skip


def leak(place, route="", *, seen_on="fluoroscopy", consequence="", by_hand=frozenset()):
    values = {"place": place, "route": route, "seen_on": seen_on, "consequence": consequence,
              "absent": {}}  # fmt: skip
    return Recorded("leak", 50, 1, values, by_hand)


def complication(kind, on, grade="", *, pk=60, by_hand=frozenset()):
    values = {"kind": kind, "occurred_on": on, "grade": grade, "absent": {}}
    return Recorded("complication", pk, 1, values, by_hand)


def verdicts(*rows, known=()):
    return judge(read(*rows), KnownPeople.of(known), [BALLOON, CEMENT])


def kinds(*rows, known=()):
    return [verdict.kind.value for verdict in verdicts(*rows, known=known)]
