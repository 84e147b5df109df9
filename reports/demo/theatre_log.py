"""The hospital's own theatre log of the last whole quarter, with the gaps that a real one shows.

Most lines are recorded procedures. Some are not found: a day that is wrong, operations that
the register never heard of, and one of another kind; and some procedures are in no line.
"""

from datetime import date, timedelta
from random import Random
from typing import Any, Final

from reports.audits.spec import quarter_before
from reports.demo import names
from reports.demo.book import Book, Row

# What the log calls an operation, by the route of the technique. Its codes are made up.
WORDS: Final = {
    "cement": ("Cement augmentation of vertebra", "VB01"),
    "balloon": ("Balloon augmentation of vertebra", "VB02"),
    "expandable": ("Vertebral body implant with cement", "VB03"),
    "fixation": ("Pedicle screws with cement", "VB04"),
}
OTHER: Final = ("Vertebral augmentation", "VB00")
# Of so many procedures one is in no line, and one stands under a wrong day: invented.
MISSED_ONE_IN: Final = 6
WRONG_DAY_ONE_IN: Final = 9
# People whom the register does not know: a number far above those of the scenario.
STRANGERS: Final = 2
_FIRST_STRANGER: Final = 7000


def add_theatre_log(book: Book, staff: dict[str, Row], seed: int, today: date) -> None:
    """Write the lines of the last whole quarter before a day."""
    first, last = quarter_before(today)
    done = [row for row in book.of("procedure") if first <= row["performed_on"] <= last]
    for place, procedure in enumerate(sorted(done, key=lambda row: row["performed_on"]), start=1):
        if place % MISSED_ONE_IN == 0:
            continue
        wrong = place % WRONG_DAY_ONE_IN == 0 and procedure["performed_on"] > first
        _add_recorded(book, procedure, wrong_day=wrong)
    for number in range(STRANGERS + 1):
        day = first + timedelta(days=20 + 17 * number)
        _add_stranger(book, Random(f"{seed} log {number}"), staff, number, day)


def _add_recorded(book: Book, procedure: Row, *, wrong_day: bool) -> None:
    patient = procedure["patient"]
    words, code = WORDS.get(procedure["technique"]["route"], OTHER)
    day = procedure["performed_on"] - timedelta(days=1 if wrong_day else 0)
    who = {name: patient[name] for name in _WHO}
    found = None if wrong_day else procedure
    _add(book, patient["site"], day, procedure["operator"], words, code, **who, procedure=found)


def _add_stranger(book: Book, rng: Random, staff: dict[str, Row], number: int, day: date) -> None:
    """An operation on somebody whom the register does not know; the last is of another kind."""
    sex = rng.choice(("female", "male"))
    is_other = number == STRANGERS
    words, code = ("Removal of metalwork from wrist", "WR07") if is_other else WORDS["cement"]
    settled: dict[str, Any] = (
        {"not_ours_because": "Wrist surgery, another department", "settled_by": staff["consultant"]}
        if is_other
        else {}
    )
    _add(
        book, staff["site"], day, staff["consultant2"], words, code,
        hospital_number=f"HG{800_000 + number * 137}",
        nhs_number=names.nhs_number(_FIRST_STRANGER + number),
        family_name=names.family_name(_FIRST_STRANGER + number),
        given_name=names.given_name(rng, sex), **settled,
    )  # fmt: skip


_WHO: Final = ("hospital_number", "nhs_number", "family_name", "given_name")


def _add(
    book: Book, site: Row, day: date, operator: Row, words: str, code: str, **fields: Any
) -> None:
    number = len(book.of("theatrelogentry")) + 1
    book.add(
        "theatrelogentry",
        site=site,
        performed_on=day,
        reference=f"{day.year}-{number:04d}",
        procedure_words=words,
        procedure_code=code,
        operator_words=f"{operator['first_name']} {operator['last_name']}",
        **fields,
    )
