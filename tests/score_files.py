"""Files of follow-up scores for tests: one true contact, and awkward ways to write it down."""

from datetime import date
from typing import Any

from tests.factories import nhs_number
from tests.referral_files import NHS, Awkward, written

# What was really said at the contact, as the register must hold it.
TRUTH: dict[str, Any] = {
    "hospital_number": "H00104711",
    "nhs_number": NHS,
    "family_name": "Zoëbeck",
    "date_of_birth": date(1942, 5, 11),
    "held_on": date(2027, 3, 1),
    "mode": "telephone",
    "pain_now": 3,
    "pain_worst": 5,
    "analgesic_step": 1,
    "mobility": 3,
    "falls": "not_known",
}
# The same, as cells.
CELLS: dict[str, str] = {
    "Hospital number": "H00104711",
    "NHS Number": NHS,
    "Family name": "Zoëbeck",
    "Date of birth": "11 May 1942",
    "Contact date": "01 Mar 2027",
    "How": "telephone",
    "Who answered": "the patient",
    "Pain now": "3",
    "Worst pain": "5",
    "Analgesic step": "1",
    "Mobility": "walks with an aid",
    "Falls": "not known",
    "Warning signs": "asked, none of these",
}


def changed(**cells: str) -> dict[str, str]:
    """Return the true cells with some of them spelt otherwise."""
    return CELLS | {name.replace("_", " "): value for name, value in cells.items()}


def another(number: int) -> dict[str, str]:
    """Return a contact of somebody else."""
    return changed(Hospital_number=f"N{number}", NHS_Number=nhs_number(3000 + number))


def bad(name: str, says: str, **cells: str) -> Awkward:
    """A file whose one row is refused."""
    return _one(name, cells, rows="r", says=says)


def good(name: str, **cells: str) -> Awkward:
    """A file whose one row is oddly spelt and right."""
    return _one(name, cells, rows="x")


def _one(name: str, cells: dict[str, str], **options: Any) -> Awkward:
    row = changed(**cells)
    content = written([row], names=row)
    return Awkward(name, content, kind="scores", truth=TRUTH, **options)
