"""Lists of earlier procedures for tests: one true row, and ways to write it down."""

from typing import Any

from register.imports.procedures.columns import COLUMNS
from tests.factories import nhs_number
from tests.referral_files import TODAY as TODAY
from tests.referral_files import written as file_of

NHS = nhs_number(920)
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
