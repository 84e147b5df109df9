"""From the values of a line to what a referral says, or to what contradicts itself."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from register.domain.days import day_words
from register.forms.dates import KnownDate
from register.imports.cells import Absent
from register.imports.people import age_wrong
from register.imports.reading import Values


@dataclass(frozen=True, slots=True)
class ReferralRow:
    """What one row says. Only what is given is in the maps; `absent` maps hold the reasons."""

    number: int
    patient: Mapping[str, Any]
    referral: Mapping[str, Any]
    levels: tuple[str, ...]
    fracture: Mapping[str, Any]
    phone: str = ""
    drugs: tuple[tuple[str, str], ...] = ()
    laboratory: Mapping[str, Decimal] = field(default_factory=dict)
    taken_on: date | None = None

    def says_the_same_as(self, other: "ReferralRow") -> bool:
        """Whether both rows give the same values."""
        names = [name for name in self.__slots__ if name != "number"]
        return all(getattr(self, name) == getattr(other, name) for name in names)


def contradictions(values: Values) -> list[str]:
    """Return what two cells of a row say against each other."""
    born = values["patient", "date_of_birth"]
    referred = values["referral", "referred_on"]
    onset = values.get(("referral", "onset_on"))
    taken = values.get(("laboratory", "taken_on"))
    found = []
    if referred < born:
        found.append(f"Referral date: {day_words(referred)} is before the date of birth.")
    found += age_wrong(born, referred)
    if isinstance(onset, KnownDate) and onset.on > referred:
        found.append(f"Onset date: {day_words(onset.on)} is after the referral date.")
    if isinstance(onset, KnownDate) and onset.on.year < born.year:
        found.append(f"Onset date: {onset.on.year} is before the date of birth.")
    if taken is None and any(part == "laboratory" for part, _ in values):
        found.append("Blood test date is empty. It is needed beside a blood value.")
    return found


def row_of(number: int, values: Values) -> ReferralRow:
    parts: dict[str, dict[str, Any]] = {
        name: {} for name in ("patient", "referral", "fracture", "laboratory", "phone", "drugs")
    }
    for (part, name), value in values.items():
        if isinstance(value, Absent):
            home = parts["referral" if part == "drugs" else part]
            home.setdefault("absent", {})[name] = value.reason
        elif isinstance(value, KnownDate):
            parts[part] |= {name: value.on, name.replace("_on", "_precision"): value.precision}
        else:
            parts[part][name] = value
    drugs = parts["drugs"].get("takes_antithrombotics")
    if drugs is not None:
        parts["referral"]["takes_antithrombotics"] = bool(drugs)
    return ReferralRow(
        number=number,
        patient=parts["patient"],
        referral=parts["referral"],
        levels=parts["fracture"].pop("levels"),
        fracture=parts["fracture"],
        phone=parts["phone"].get("number", ""),
        drugs=drugs or (),
        taken_on=parts["laboratory"].pop("taken_on", None),
        laboratory=parts["laboratory"],
    )
