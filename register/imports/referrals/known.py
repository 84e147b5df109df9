"""What the register holds of the people in a file, as plain values to compare with."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from register.domain.nhs_number import digits_of
from register.imports.weighing import Recorded


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFracture(Recorded):
    """A fracture of a known patient; `state` is a code of vocabulary.FRACTURE_STATE."""

    level: str
    state: str = "waiting"
    onset_on: date | None = None
    referred_on: date | None = None

    @property
    def waits(self) -> bool:
        """Whether something is still to be done for it."""
        return self.state in ("waiting", "listed")


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownReferral(Recorded):
    """A referral of a known patient: all its values by field name, its drugs and its levels."""

    referred_on: date
    drugs: frozenset[tuple[str, str]] = frozenset()
    levels: Mapping[str, KnownFracture] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPatient(Recorded):
    """A patient of the site.

    `set_aside` is true for a voided record; `undone` for one that only the undoing of an
    import set aside, which a file may take up again.
    """

    phones: tuple[str, ...] = ()
    set_aside: bool = False
    undone: bool = False
    referrals: tuple[KnownReferral, ...] = ()
    fractures: tuple[KnownFracture, ...] = ()
    laboratory: frozenset[tuple[str, date, Decimal]] = frozenset()

    def referral_of(self, day: date) -> KnownReferral | None:
        """The referral written on a day."""
        return next((r for r in self.referrals if r.referred_on == day), None)


@dataclass(frozen=True, slots=True)
class KnownPeople:
    """The patients of a site that a file may mean, found by either number or by name."""

    by_nhs: Mapping[str, KnownPatient]
    by_hospital: Mapping[str, KnownPatient]
    by_bare_hospital: Mapping[str, KnownPatient]
    by_name_and_birth: Mapping[tuple[str, str, date], KnownPatient]

    @classmethod
    def of(cls, people: Iterable[KnownPatient]) -> "KnownPeople":
        """Sort people by everything by which a file may mean them."""
        people = sorted(people, key=lambda person: not person.set_aside)  # a live one wins
        return cls(
            by_nhs={p.values["nhs_number"]: p for p in people if p.values["nhs_number"]},
            by_hospital={p.values["hospital_number"].casefold(): p for p in people},
            by_bare_hospital={bare(p.values["hospital_number"]): p for p in people},
            by_name_and_birth={name_and_birth(p.values): p for p in people if not p.set_aside},
        )


def bare(hospital_number: str) -> str:
    """Return a hospital number without blanks, dashes and zeros in front: what may get lost."""
    return digits_of(hospital_number).casefold().lstrip("0")


def same_name(one: str, other: str) -> bool:
    """Whether two spellings are one name; case, blanks, hyphens and apostrophes do not count."""
    return letters(one) == letters(other)


def letters(name: str) -> str:
    """Return the letters of a name, accents included: Zoe and Zoë stay two names."""
    return "".join(letter for letter in name.casefold() if letter.isalnum())


def name_and_birth(values: Mapping[str, Any]) -> tuple[str, str, date]:
    """Return what two records of one person have in common even when the numbers differ."""
    return (
        letters(values["family_name"]),
        letters(values["given_name"]),
        values["date_of_birth"],
    )
