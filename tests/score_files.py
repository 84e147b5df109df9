"""Files of follow-up scores for tests: one true contact, and awkward ways to write it down."""

from datetime import date
from typing import Any

from register.domain.protocol import shipped
from register.domain.timepoints import schedule
from register.imports.people import KnownPeople
from register.imports.scores.known import KnownContact, KnownFollowed, KnownTreatment, Slot
from tests.factories import nhs_number
from tests.referral_files import CELLS as REFERRAL
from tests.referral_files import NHS, Awkward, workbook, written

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


def doubted(name: str, says: str, **cells: str) -> Awkward:
    """A file whose one row a person must decide."""
    return _one(name, cells, rows="x", says=says)


def good(name: str, *, truth: dict[str, Any] | None = None, **cells: str) -> Awkward:
    """A file whose one row is oddly spelt and right."""
    return _one(name, cells, rows="k", truth=TRUTH | (truth or {}))


def file(name: str, content: bytes, **more: Any) -> Awkward:
    """A file, read as one of scores by a register that knows the patient and the contact."""
    defaults = {"kind": "scores", "known": KNOWN, "truth": TRUTH}
    return Awkward(f"scores: {name}", content, **defaults | more)


def _one(name: str, cells: dict[str, str], **more: Any) -> Awkward:
    row = changed(**cells)
    return file(name, written([row], names=row), **more)


def _known() -> KnownPeople[KnownFollowed]:
    """The patient of the true row, treated on 20 Nov 2026, with no contact held yet."""
    anchor = date(2026, 11, 20)
    slots = [
        Slot(
            timepoint=one.timepoint.code,
            title=one.timepoint.title,
            opens_on=one.opens_on,
            target_on=one.target_on,
            closes_on=one.closes_on,
            contact=KnownContact(model="review", pk=place, version=1, values=_DUE),
        )
        for place, one in enumerate(schedule(anchor, shipped(anchor).timepoints), start=1)
    ]
    words = "balloon tamping, L1, of 20 Nov 2026"
    treated = KnownTreatment(1, None, anchor, words, frozenset(["L1"]), tuple(slots))
    who = {
        "hospital_number": "H00104711",
        "nhs_number": NHS,
        "family_name": "Zoëbeck",
        "given_name": "Maud",
        "date_of_birth": date(1942, 5, 11),
        "sex": "female",
        "date_of_death": None,
    }
    person = KnownFollowed(model="patient", pk=1, version=1, values=who, treatments=(treated,))
    return KnownPeople.of([person])


_DUE: dict[str, Any] = {
    "held_on": None,
    "mode": "",
    "informant": "",
    "informant_name": "",
    "red_flags": [],
    "red_flags_told": "",
    "red_flags_told_at": None,
    "note": "",
}
KNOWN = _known()
NO_SCORES = dict.fromkeys(("Pain_now", "Worst_pain", "Analgesic_step", "Mobility", "Falls"), "")
SIGN = {"Warning_signs": "fever", "Told_whom": "the registrar", "Told_on": "01 Mar 2027"}
TYPED = CELLS | {"Pain now": 3, "Worst pain": 5, "Contact date": date(2027, 3, 1)}

CASES: list[Awkward] = [
    # --- forms of file
    file("comma", written([CELLS], names=CELLS), rows="k"),
    file("semicolon", written([CELLS], names=CELLS, sign=";"), rows="k"),
    file("UTF-16", written([CELLS], names=CELLS, encoding="utf-16"), rows="k"),
    file(
        "western code page",
        written([CELLS], names=CELLS, encoding="cp1252"),
        asks="letters",
        rows="k",
    ),
    file("workbook with typed cells", workbook([TYPED], names=CELLS), rows="k"),
    file(
        "workbook, score with a point",
        workbook([TYPED | {"Pain now": 3.5}], names=CELLS),
        rows="r",
        says="whole number",
    ),
    file(
        "workbook, number as a number",
        workbook([TYPED | {"NHS Number": int(NHS)}], names=CELLS),
        rows="r",
        says="came as a number",
    ),
    file(
        "column not known",
        written([CELLS | {"Ward": "7B"}], names=[*CELLS, "Ward"]),
        asks="columns",
        mapping={name: name for name in CELLS} | {"Ward": ""},
        rows="k",
    ),
    file("referrals sent as scores", written([REFERRAL]), asks="columns"),
    # --- whose and which contact
    good("hospital number alone", truth={"nhs_number": None}, NHS_Number=""),
    good("NHS Number alone", truth={"hospital_number": None}, Hospital_number=""),
    good("NHS Number in groups", NHS_Number=f"{NHS[:3]} {NHS[3:6]} {NHS[6:]}"),
    bad("no number", "Write one of them", NHS_Number="", Hospital_number=""),
    bad("reason for a number", "Write one of them", NHS_Number="not known", Hospital_number=""),
    bad("hospital number as a power", "a spreadsheet has turned", Hospital_number="1.1E+11"),
    bad("family name empty", "Family name is empty", Family_name=""),
    doubted("another name", "the register Zoëbeck", Family_name="Ashbeck"),
    doubted("another birth", "the register 11 May 1942", Date_of_birth="11 May 1943"),
    doubted("nobody known", "knows no patient", Hospital_number="H5", NHS_Number=""),
    doubted("number mistyped", "correct the number", Hospital_number="H104711", NHS_Number=""),
    good("time point named", Time_point="3 Months"),
    good("time point by its code", Time_point="months_3"),
    doubted("time point not known", "Write one of these", Time_point="V3"),
    doubted("time point and date apart", "Correct the time point", Time_point="12 months"),
    doubted("between two windows", "lies in no window", Contact_date="24 Jan 2027"),
    doubted("another treatment", "No treatment of this patient", Treatment_date="01 Feb 2027"),
    doubted("another level", "No treatment of this patient", Levels="T12"),
    file("same row twice", written([CELLS, CELLS], names=CELLS), rows="ks", says="row 2"),
    file(
        "one contact, two days",
        written([CELLS, changed(Contact_date="02 Mar 2027")], names=CELLS),
        rows="xx",
        says="Rows 2, 3",
    ),
    # --- days
    bad("not come yet", "has not come yet", Contact_date="08 Mar 2027"),
    bad("date empty", "Contact date is empty", Contact_date=""),
    bad("month alone", "has no day", Contact_date="Mar 2027"),
    bad("before the birth", "before the date of birth", Contact_date="01 Mar 1942"),
    # --- scores
    good("reason for a score", truth={"pain_now": "declined"}, Pain_now="declined"),
    good("answer as a digit", Mobility="3"),
    good("answer as it is printed", Analgesic_step="1 simple analgesic"),
    good("no analgesic, as a digit", truth={"analgesic_step": 0}, Analgesic_step="0"),
    good("no analgesic, as it is printed", truth={"analgesic_step": 0}, Analgesic_step="0 none"),
    bad("step without a value, or none", "Write “0 none”", Analgesic_step="None"),
    bad("falls as none", "Falls: write figures only", Falls="none"),
    bad("pain as none", "Pain now: write figures only", Pain_now="none"),
    good("nought is nought", truth={"pain_now": 0}, Pain_now="0"),
    bad("beyond the scale", "from 0 to 10", Pain_now="11"),
    bad("disability beyond the scale", "from 0 to 24", Disability_total="25"),
    bad("below the scale", "Pain now", Pain_now="-1"),
    bad("part of a point", "whole number", Pain_now="3.5"),
    bad("comma for point", "point instead of the comma", Pain_now="3,5"),
    bad("out of ten", "Pain now", Pain_now="3/10"),
    bad("score made a date", "Pain now", Pain_now="03-Mar"),
    bad("other digits", "digits 0 to 9", Pain_now="\uff13"),
    bad("score in words", "Pain now", Pain_now="three"),
    bad("answer beyond the scale", "from 0 to 4", Mobility="5"),
    bad("answer not known", "4 walks without aid; 3 walks with an aid", Mobility="walks far"),
    bad("error of a spreadsheet", "error of the spreadsheet", Pain_now="#N/A"),
    bad("no score at all", "holds no score", **NO_SCORES),
    doubted("worst below now", "why both are right", Worst_pain="2"),
    doubted("many falls", "12 is unusual", Falls="12"),
    good("many falls, with a reason", truth={"falls": 12}, Falls="12", Why_unlikely="dizzy"),
    # --- how, who, warning signs
    bad("way not known", "is not one of the answers", How="video"),
    bad("relative not said", "say under “Who answered”", Name_of_relative_or_carer="Ann Beck"),
    bad("signs without a value, or none", "Write “asked, none of these”", Warning_signs="None"),
    bad("sign without who was told", "Told whom, Told on, Told at", Warning_signs="fever"),
    bad("told of nothing", "name the warning sign", Told_whom="the registrar"),
    bad("time as a number", "write the time as 14:05", **SIGN, Told_at="25:05"),
    bad(
        "told before", "is before the contact", **SIGN | {"Told_on": "28 Feb 2027"}, Told_at="14:05"
    ),
    good("sign with who was told", **SIGN, Told_at="14:05"),
]
