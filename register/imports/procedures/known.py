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
    """A treated level. `cement` are all its entries, `leaks` (place, route) of each leak."""

    fracture: KnownFracture
    cement: tuple[Recorded, ...] = ()
    leaks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownProcedure(Recorded):
    """A procedure with its levels by name. `complications` are (kind, day) of each.

    `state` is a code of vocabulary.CASE_STATE; `operator` the person of the register, '' for none.
    """

    performed_on: date
    technique: "KnownTechnique"
    state: str
    operator: str = ""
    levels: Mapping[str, KnownLevel] = field(default_factory=dict)
    complications: frozenset[tuple[str, date]] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPatient(KnownPerson):
    """A patient of the site, with all that a row is compared with.

    `referrals` maps the day of each referral to its id.
    """

    procedures: tuple[KnownProcedure, ...] = ()
    fractures: tuple[KnownFracture, ...] = ()
    referrals: Mapping[date, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class KnownTechnique:
    """A technique of the department; `route` is a code of vocabulary.ROUTE."""

    pk: int
    name: str
    route: str


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
