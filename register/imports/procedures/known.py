"""What the register holds of the people in a list of procedures, as plain values to compare."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from register.domain import vocabulary as v
from register.imports.cells import plain
from register.imports.people import KnownPerson
from register.imports.procedures.columns import ROUTES
from register.imports.referrals.known import KnownFracture
from register.imports.weighing import Recorded


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownLevel(Recorded):
    """A treated level with all its entries of cement and all its leaks."""

    fracture: KnownFracture
    cement: tuple[Recorded, ...] = ()
    leaks: tuple[Recorded, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownProcedure(Recorded):
    """A procedure with its levels by name.

    `state` is a code of vocabulary.CASE_STATE; `operator` the person of the register, '' for none.
    """

    performed_on: date
    technique: "KnownTechnique"
    state: str
    operator: str = ""
    levels: Mapping[str, KnownLevel] = field(default_factory=dict)
    complications: tuple[Recorded, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPatient(KnownPerson):
    """A patient of the site, with all that a row is compared with.

    `referrals` maps the day of each referral to its id; `seen_on` is the day of the last
    contact that was held.
    """

    procedures: tuple[KnownProcedure, ...] = ()
    fractures: tuple[KnownFracture, ...] = ()
    referrals: Mapping[date, int] = field(default_factory=dict)
    seen_on: date | None = None


@dataclass(frozen=True, slots=True)
class KnownTechnique:
    """A technique of the department; `route` is a code of vocabulary.ROUTE."""

    pk: int
    name: str
    route: str


@dataclass(frozen=True, slots=True)
class Meant:
    """On what the new procedure of a row hangs, beside its patient.

    `fractures` maps levels to ids of recorded fractures, `shared` to the rows of the file
    that bring the fracture; the row itself brings all others. `referral_id` is the recorded
    referral of the day that the row gives, None when the row brings it or gives none.
    """

    technique_id: int
    fractures: Mapping[str, int] = field(default_factory=dict)
    shared: Mapping[str, int] = field(default_factory=dict)
    referral_id: int | None = None

    def brings(self, levels: Iterable[str]) -> list[str]:
        """Return those levels whose fracture the row brings itself."""
        return [one for one in levels if one not in self.fractures and one not in self.shared]


_ROUTE_OF: Final = {plain(word): code for code, said in ROUTES for word in (code, said)}


def technique_meant(
    text: str, techniques: Iterable[KnownTechnique]
) -> tuple[KnownTechnique | None, str]:
    """Return the technique that a cell means by its name or its way, or why none is certain."""
    techniques = list(techniques)
    for technique in techniques:
        if plain(technique.name) == plain(text):
            return technique, ""
    route = _ROUTE_OF.get(plain(text))
    found = [technique for technique in techniques if technique.route == route]
    if len(found) == 1:
        return found[0], ""
    if found:
        names = "; ".join(technique.name for technique in found)
        return None, f"Technique: “{text}” may be each of these: {names}. Write one of the names."
    if route:
        return None, (
            f"Technique: this department has none for {v.words_for(v.ROUTE, route)}. Enter it "
            "under Techniques first."
        )
    all_names = [*(technique.name for technique in techniques), *dict(ROUTES).values()]
    answers = "; ".join({plain(name): name for name in all_names}.values())
    return None, f"Technique: “{text}” is not one of these: {answers}."
