"""Rows of one file that cannot both be right about a person; for kinds that bring patients."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any, Final, Protocol

from register.imports.people import Given, bare, name_and_birth


class OfPatient(Protocol):
    """A row that says who its patient is, with hospital number, names and birth at least."""

    @property
    def number(self) -> int: ...

    @property
    def patient(self) -> Given: ...


def quarrels(rows: Iterable[OfPatient]) -> dict[int, str]:
    """Return rows that share a number or a person and disagree on the rest, with the words."""
    rows = list(rows)
    found: dict[int, str] = {}
    for shared, words in _SHARED.items():
        groups: dict[str, list[OfPatient]] = defaultdict(list)
        for row in rows:
            if key := shared(row.patient):
                groups[key].append(row)
        for group in groups.values():
            if len({_person_of(row.patient) for row in group}) > 1:
                numbers = ", ".join(str(row.number) for row in group)
                found |= {row.number: f"Rows {numbers} {words}" for row in group}
    return found


def _named_without_number(patient: Given) -> str:
    """Return name and birth; '' with an NHS Number, which tells people apart."""
    return "" if patient.get("nhs_number") else repr(name_and_birth(patient))


_SHARED: Final[dict[Callable[[Given], str], str]] = {
    lambda patient: str(patient.get("nhs_number", "")): (
        "have the same NHS Number and differ in name, date of birth, sex or hospital number. "
        "Correct the wrong ones."
    ),
    lambda patient: bare(patient["hospital_number"]): (
        "have the same hospital number, zeros in front apart, and differ in it, in name, date "
        "of birth, sex or NHS Number. Correct the wrong ones."
    ),
    _named_without_number: (
        "have the same name and date of birth, no NHS Number, and different hospital numbers. "
        "If it is one person, correct the hospital number; if not, enter them by hand."
    ),
}


def _person_of(patient: Given) -> tuple[Any, ...]:
    return (
        *name_and_birth(patient),
        patient["hospital_number"].casefold(),
        patient.get("nhs_number", ""),
        patient.get("sex", ""),
    )
