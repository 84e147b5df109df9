"""From the values of a line to what it says of a procedure, or to what contradicts itself."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any, Final

from register.domain.days import day_words
from register.forms.dates import KnownDate
from register.imports.cells import Absent
from register.imports.people import age_wrong
from register.imports.procedures.cells import Leak
from register.imports.reading import Values


@dataclass(frozen=True, slots=True)
class LevelTold:
    """What a row says of one level. `given` are fields of TreatedLevel, with their "absent".

    `volume_ml` is all cement of the level, or a reason why there is no number; None is not
    told. `leaks` None is not told, () is "looked for, none seen".
    """

    given: Mapping[str, Any] = field(default_factory=dict)
    volume_ml: Decimal | Absent | None = None
    leaks: tuple[Leak, ...] | None = None


@dataclass(frozen=True, slots=True)
class ProcedureRow:
    """What one row says. Only what is given is in the maps; `absent` maps hold the reasons.

    `technique` is still in the words of the file. `complications` are (kind, day, grade).
    """

    number: int
    patient: Mapping[str, Any]
    performed_on: date
    technique: str
    levels: Mapping[str, LevelTold]
    procedure: Mapping[str, Any]
    fracture: Mapping[str, Any]
    died_on: date | None = None
    referred_on: date | None = None
    seen_on: str = ""
    consequence: str = ""
    why_unlikely: str = ""
    complications: tuple[tuple[str, date, str], ...] = ()

    @property
    def last_on(self) -> date:
        """The last day of which the row tells something that needs a living patient."""
        after = [self.procedure.get(name) for name in ("discharged_on", "readmitted_on")]
        after += [day for _, day, _ in self.complications]
        return max([self.performed_on, *filter(None, after)])

    @property
    def onset_on(self) -> date | None:
        """The day of onset, the first of its month or year when it is known no finer."""
        onset: date | None = self.fracture.get("onset_on")
        return onset

    def says_the_same_as(self, other: "ProcedureRow") -> bool:
        """Whether both rows give the same values."""
        names = [name for name in self.__slots__ if name != "number"]
        return all(getattr(self, name) == getattr(other, name) for name in names)


def contradictions(values: Values) -> list[str]:
    """Return what two cells of a row say against each other."""
    return [*_days_wrong(values), *_levels_wrong(values), *_leaks_wrong(values)]


def _days_wrong(values: Values) -> Iterator[str]:
    born, done = values["patient", "date_of_birth"], values["procedure", "performed_on"]
    if done < born:
        yield f"Procedure date: {day_words(done)} is before the date of birth."
    yield from age_wrong(born, done)
    onset = values.get(("fracture", "onset_on"))
    if isinstance(onset, KnownDate) and onset.on > done:
        yield f"Onset date: {day_words(onset.on)} is after the procedure."
    if isinstance(onset, KnownDate) and onset.on.year < born.year:
        yield f"Onset date: {onset.on.year} is before the date of birth."
    referred = values.get(("referral", "referred_on"))
    if referred is not None and referred > done:
        yield f"Referral date: {day_words(referred)} is after the procedure."
    if referred is not None and referred < born:
        yield f"Referral date: {day_words(referred)} is before the date of birth."
    if isinstance(onset, KnownDate) and referred is not None and onset.on > referred:
        yield f"Onset date: {day_words(onset.on)} is after the referral date."
    yield from _afterwards_wrong(values, done)


def _afterwards_wrong(values: Values, done: date) -> Iterator[str]:
    """Yield what lies before the procedure or after the death, and a return before leaving."""
    left = values.get(("procedure", "discharged_on"))
    back = values.get(("procedure", "readmitted_on"))
    died = values.get(("patient", "date_of_death"))
    told = values.get(("procedure", "complication_check"), ())
    trouble = () if isinstance(told, Absent) else [("Complications", day) for _, day, _ in told]
    for name, day in (
        ("Discharged", left), ("Readmitted", back), ("Date of death", died), *trouble,
    ):  # fmt: skip
        if day is not None and day < done:
            yield f"{name}: {day_words(day)} is before the procedure."
        elif day is not None and died is not None and day > died:
            yield f"{name}: {day_words(day)} is after the date of death."
    if left is not None and back is not None and back < left:
        yield f"Readmitted: {day_words(back)} is before the discharge."


def _levels_wrong(values: Values) -> Iterator[str]:
    """Yield cells that name a level which is not treated, or leave open which one they mean."""
    levels = values["fracture", "levels"]
    for (part, name), column in _PER_LEVEL.items():
        told = values.get((part, name), ())
        for level, value in () if isinstance(told, Absent) else told:
            if level and level not in levels:
                yield f"{column}: {level} is not among the levels of the row."
            is_one = name == "volume_ml" or (name == "leaks" and isinstance(value, tuple))
            if not level and is_one and not isinstance(value, Absent) and len(levels) > 1:
                yield f"{column}: write each level with its own value, as in T12 …; L1 …."


def _leaks_wrong(values: Values) -> Iterator[str]:
    """Yield answers about leaks that lack their images or say two things of one level."""
    cell, on = values.get(("level", "leaks")), values.get(("leak", "seen_on"))
    told = cell if isinstance(cell, tuple) else ()
    found = [one for _, one in told if not isinstance(one, Absent)]
    if found and on is None:
        yield "Leaks looked for on is empty. It is needed beside Leaks."
    if on is not None and not found:
        yield "Leaks names nothing that was seen. Say it, or leave Leaks looked for on empty, too."
    yield from _consequence_wrong(values, [one for one in found if isinstance(one, tuple)])
    for level in values["fracture", "levels"]:
        of_level = _of(level, told)
        if len(of_level) > 1 and any(not isinstance(one, tuple) for one in of_level):
            yield f"Leaks: {level} cannot have a leak and none. Remove one."
        elif len(set(of_level)) < len(of_level):
            yield f"Leaks: a leak of {level} stands there twice. Remove one."


def _consequence_wrong(values: Values, leaks: list[Leak]) -> Iterator[str]:
    """Yield a consequence that belongs to no leak, or to nobody knows which of several."""
    consequence = values.get(("leak", "consequence"))
    if consequence is not None and not leaks:
        yield "Leak consequence: there is no leak in the row. Leave the cell empty."
    if consequence not in (None, "none") and len(leaks) > 1:
        yield (
            "Leak consequence: the row has several leaks. Leave the cell empty, and add it on "
            "the record."
        )


_PER_LEVEL: Final = {
    ("level", "side"): "Side",
    ("level", "approach"): "Approach",
    ("level", "biopsy_taken"): "Biopsy",
    ("level", "volume_ml"): "Cement mL",
    ("level", "leaks"): "Leaks",
}


def row_of(number: int, values: Values) -> ProcedureRow:
    """Return the row of a line whose values do not contradict each other."""
    parts = _parts(values)
    done, levels = parts["procedure"], parts["fracture"].pop("levels")
    trouble = done.get("complication_check")
    if trouble is not None:
        done["complication_check"] = "some" if trouble else "none"
    return ProcedureRow(
        number=number,
        died_on=parts["patient"].pop("date_of_death", None),
        patient=parts["patient"],
        performed_on=done.pop("performed_on"),
        technique=done.pop("technique"),
        why_unlikely=done.pop("why_unlikely", ""),
        levels={level: _level(level, values) for level in levels},
        procedure=done,
        fracture=parts["fracture"],
        referred_on=parts["referral"].get("referred_on"),
        seen_on=parts["leak"].get("seen_on", ""),
        consequence=parts["leak"].get("consequence", ""),
        complications=trouble or (),
    )


def _parts(values: Values) -> dict[str, dict[str, Any]]:
    """Return what is said of the row as a whole, by part and field."""
    parts: dict[str, dict[str, Any]] = {
        name: {} for name in ("patient", "referral", "fracture", "procedure", "leak")
    }
    for (part, name), value in values.items():
        if part == "level":
            continue
        if isinstance(value, Absent):
            parts[part].setdefault("absent", {})[name] = value.reason
        elif isinstance(value, KnownDate):
            parts[part] |= {name: value.on, name.replace("_on", "_precision"): value.precision}
        else:
            parts[part][name] = value
    return parts


def _level(level: str, values: Values) -> LevelTold:
    """Return what a row says of one level, by its name or for all of them."""
    given: dict[str, Any] = {}
    absent: dict[str, str] = {}
    volume: Decimal | Absent | None = None
    leaks: tuple[Leak, ...] | None = None
    for part, name in _PER_LEVEL:
        told = values.get((part, name), ())
        match name, [told] if isinstance(told, Absent) else _of(level, told):
            case _, []:
                pass
            case "volume_ml", [volume]:
                pass
            case _, [Absent(reason)]:
                absent["leak_check" if name == "leaks" else name] = reason
            case "leaks", found:
                leaks = tuple(one for one in found if isinstance(one, tuple))
            case _, [value]:
                given[name] = value
    if absent:
        given["absent"] = absent
    return LevelTold(given, volume, leaks)


def _of(level: str, told: Any) -> list[Any]:
    return [value for name, value in told if name in ("", level)]
