"""Who a row of a file means: found by either number, checked by name and birth. For all kinds.

What a file says of a person is a map of fields of Patient, and holds only what is given.
A number finds somebody; that everything else that is given agrees makes sure of it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, Generic, TypeVar

from register.domain import vocabulary as v
from register.domain.days import NOT_RECORDED, age_years, day_words
from register.domain.nhs_number import digits_of, formatted
from register.imports import cells
from register.imports.column import DAY, Column, taken
from register.imports.verdicts import Edit
from register.imports.weighing import Recorded
from register.models import Patient

_COLUMNS: Final = (
    taken(Patient, "hospital_number", "Hospital number", "Kept as text, with its zeros in front.",
        read=cells.identifier(24), example="H104711"),
    taken(Patient, "nhs_number", "NHS Number", "Ten digits; spaces and dashes may stand between.",
        read=cells.nhs_number, example="999 000 0018"),
    taken(Patient, "family_name", "Family name", "", example="Ashbeck"),
    taken(Patient, "given_name", "Given name", "", example="Maud"),
    taken(Patient, "date_of_birth", "Date of birth", DAY, example="14 May 1942"),
)  # fmt: skip
# Who somebody is. No file changes any of it.
IDENTITY: Final = (*(column.field for column in _COLUMNS), "sex")
_NAMES: Final = {column.field: column.name for column in _COLUMNS} | {"sex": "Sex"}
OLDEST_YEARS: Final = 120  # older is a mistyped year; common sense, no source
Given = Mapping[str, Any]


def identity_columns(*needed: str) -> tuple[Column, ...]:
    """Return the columns of numbers, names and birth; the named fields are needed in each row."""
    return tuple(
        Column(
            c.name, c.part, c.field, c.read, c.asks, c.example,
            needed=c.field in needed, may_be_absent=c.may_be_absent and c.field not in needed,
        )
        for c in _COLUMNS
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPerson(Recorded):
    """A patient of the site; `values` hold at least IDENTITY and the date of death.

    `set_aside` is true for a voided record, `undone` for one that only the undoing of an
    import set aside. `stands_as` is the hospital number of the record with which a
    set-aside one was made one, '' without one.
    """

    set_aside: bool = False
    undone: bool = False
    stands_as: str = ""

    @property
    def is_closed(self) -> bool:
        """Whether a person set the record aside: no file takes it up again."""
        return self.set_aside and not self.undone


Person = TypeVar("Person", bound=KnownPerson)


@dataclass(frozen=True, slots=True)
class KnownPeople(Generic[Person]):
    """The patients of a site that a file may mean, found by either number or by name."""

    by_nhs: Mapping[str, Person]
    by_hospital: Mapping[str, Person]
    by_bare_hospital: Mapping[str, Person]
    by_name_and_birth: Mapping[tuple[str, str, date], Person]

    @classmethod
    def of(cls, people: Iterable[Person]) -> "KnownPeople[Person]":
        """Sort people by everything by which a file may mean them."""
        people = sorted(people, key=lambda person: not person.set_aside)  # a live one wins
        return cls(
            by_nhs={p.values["nhs_number"]: p for p in people if p.values["nhs_number"]},
            by_hospital={p.values["hospital_number"].casefold(): p for p in people},
            by_bare_hospital={bare(p.values["hospital_number"]): p for p in people},
            by_name_and_birth={name_and_birth(p.values): p for p in people if not p.set_aside},
        )


def who_is_meant(
    given: Given, known: KnownPeople[Person], *, on: date | None = None
) -> tuple[Person | None, list[str]]:
    """Return the known patient, and why nobody can say for certain that he is meant.

    (None, []) when nobody is known. `on` is the day of what the row tells: nothing is
    recorded for a day after the death.
    """
    by_nhs = known.by_nhs.get(given.get("nhs_number") or "-")
    by_hospital = known.by_hospital.get(given.get("hospital_number", "").casefold())
    found = [person for person in (by_hospital, by_nhs) if person is not None]
    if not found:
        return None, _perhaps_known(given, known)
    if closed := [person for person in found if person.is_closed]:
        return None, [_closed_words(closed[0])]
    if found[0].pk != found[-1].pk:
        return None, [
            "The NHS Number and the hospital number belong to two different patients of the "
            "register. Correct one of them."
        ]
    return found[0], _contradictions(given, found[0], on)


def age_wrong(born: date, on: date) -> list[str]:
    """Return that a date of birth makes somebody older on a day than can be believed."""
    if age_years(born, on) <= OLDEST_YEARS:
        return []
    words = f"makes the patient more than {OLDEST_YEARS} years old."
    return [f"Date of birth: {day_words(born)} {words}"]


def taken_up(person: KnownPerson, given: Given) -> tuple[str, Edit]:
    """Return the words and the edit that bring a patient back whom only an undo set aside.

    What undone files said is gone: the record holds what is given now, and nothing else.
    """
    own = ("id", "created_at", "version", "site")
    columns = [column for column in Patient._meta.concrete_fields if column.name not in own]
    values = {column.name: column.get_default() for column in columns} | dict(given)
    words = "Set aside when an import was undone; taken up again under the same record."
    return words, Edit(person.model, person.pk, person.version, values)


def _closed_words(person: KnownPerson) -> str:
    number = person.values["hospital_number"]
    if person.stands_as:
        return (
            f"These numbers belong to the record {number}, which was made one with "
            f"{person.stands_as}. Write the hospital number {person.stands_as}, and its NHS Number."
        )
    return (
        f"These numbers belong to the record {number}, which was set aside. Correct the numbers, "
        "or ask for that record."
    )


def _contradictions(given: Given, person: KnownPerson, on: date | None) -> list[str]:
    """Return what speaks against this patient although a number fits. NHS Number and sex count
    when the register knows them, too."""
    values = person.values
    found = [
        f"{_NAMES[name]}: the file says {identity_said(name, given[name])}, "
        f"the register {identity_said(name, values[name])}."
        for name in IDENTITY
        if given.get(name) and values[name] and not _agrees(name, given[name], values[name])
    ]
    died = values["date_of_death"]
    if on is not None and died is not None and on > died and not person.undone:
        found.append(f"The register says that this patient died on {day_words(died)}.")
    return found


def _perhaps_known(given: Given, known: KnownPeople[Any]) -> list[str]:
    """Return why a row may mean somebody whom its numbers do not find."""
    hospital = given.get("hospital_number", "")
    near = known.by_bare_hospital.get(bare(hospital)) if hospital else None
    if near is not None:
        return [
            f"Hospital number: {hospital} is not recorded, but {near.values['hospital_number']} "
            "is. A spreadsheet may have removed zeros in front: correct the number."
        ]
    if not all(given.get(name) for name in ("family_name", "given_name", "date_of_birth")):
        return []
    namesake = known.by_name_and_birth.get(name_and_birth(given))
    if namesake is None or (given.get("nhs_number") and namesake.values["nhs_number"]):
        return []  # two different NHS Numbers: two people
    return [
        "A patient of this name and date of birth is recorded under hospital number "
        f"{namesake.values['hospital_number']}. If it is the same person, correct the hospital "
        "number; if not, enter this patient by hand."
    ]


def bare(hospital_number: str) -> str:
    """Return a hospital number without blanks, dashes and zeros in front: what may get lost."""
    return digits_of(hospital_number).casefold().lstrip("0")


def same_name(one: str, other: str) -> bool:
    """Whether two spellings are one name; case, blanks, hyphens and apostrophes do not count."""
    return letters(one) == letters(other)


def letters(name: str) -> str:
    """Return the letters of a name, accents included: Zoe and Zoë stay two names."""
    return "".join(filter(str.isalnum, name.casefold()))


def name_and_birth(values: Given) -> tuple[str, str, date]:
    """Return what two records of one person have in common even when the numbers differ."""
    return (
        letters(values["family_name"]),
        letters(values["given_name"]),
        values["date_of_birth"],
    )


def _agrees(name: str, given: Any, there: Any) -> bool:
    if name in ("family_name", "given_name"):
        return same_name(given, there)
    if name == "hospital_number":
        return bool(given.casefold() == there.casefold())
    return bool(given == there)


def identity_said(name: str, value: Any) -> str:
    """Return what says who somebody is, as pages print it."""
    if not value:
        return NOT_RECORDED
    if isinstance(value, date):
        return day_words(value)
    if name == "nhs_number":
        return formatted(value)
    return v.words_for(v.SEX, value) if name == "sex" else str(value)
