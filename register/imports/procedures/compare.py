"""How a row differs from a procedure that the register holds, in words with both values."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Final

from register.domain import vocabulary as v
from register.domain.days import NOT_RECORDED, day_words
from register.forms.dates import KnownDate
from register.imports.cells import Absent
from register.imports.people import letters
from register.imports.procedures.cells import Leak
from register.imports.procedures.columns import COLUMNS
from register.imports.procedures.known import KnownLevel, KnownPatient, KnownProcedure
from register.imports.procedures.rows import LevelTold, ProcedureRow
from register.imports.reading import date_words
from register.imports.referrals.known import KnownFracture
from register.imports.weighing import Recorded, Weighed, weigh

_NAMES: Final = {c.field: c.name for c in COLUMNS} | {"leak_check": "Leaks"}
_VOCABULARIES: Final[dict[str, v.Words]] = {
    "cause": v.FRACTURE_CAUSE,
    "anaesthesia": v.ANAESTHESIA,
    "level_check": v.LEVEL_CHECK,
    "complication_check": v.COMPLICATION_CHECK,
    "side": v.SIDE,
    "approach": v.APPROACH,
}
_ONSET: Final = ("onset_on", "onset_precision")


def death_weighed(row: ProcedureRow, patient: KnownPatient) -> Weighed:
    """Weigh the day of death."""
    given = {"date_of_death": row.died_on} if row.died_on else {}
    return weigh(patient, given, names=_NAMES, said=said)


def procedure_weighed(row: ProcedureRow, recorded: KnownProcedure) -> Weighed:
    """Weigh the session facts; a person of the register as operator is kept."""
    given = dict(row.procedure)
    named = given.pop("operator_words", "") if recorded.operator else ""
    found = weigh(recorded, given, names=_NAMES, said=said)
    if named and letters(named) != letters(recorded.operator):
        found.kept.append(f"Operator: the list says {named}; {recorded.operator} is kept.")
    if found.values.get("complication_check") == "none" and recorded.complications:
        found.conflicts.append("Complications: the list says none, and some are recorded.")
    return found


def fracture_weighed(row: ProcedureRow, fracture: KnownFracture) -> Weighed:
    """Weigh onset and cause of a treated fracture; its onset counts as one value."""
    given = dict(row.fracture)
    if "onset_on" in given:
        given["onset_on"] = KnownDate(given["onset_on"], given.pop("onset_precision"))
    found = weigh(_with_onset(fracture), given, names=_NAMES, said=said)
    if isinstance(onset := found.values.get("onset_on"), KnownDate):
        found.values |= {"onset_on": onset.on, "onset_precision": onset.precision}
    return _of_level(fracture.level, found)


def level_weighed(row: ProcedureRow, told: LevelTold, there: KnownLevel) -> Weighed:
    """Weigh how a level was treated, and fill what is said of leaks where nothing is recorded."""
    found = weigh(there, told.given, names=_NAMES, said=said)
    if told.leaks is not None:
        _weigh_leaks(row, told.leaks, there, found)
    return _of_level(there.fracture.level, found)


def cement_weighed(told: LevelTold, there: KnownLevel) -> Weighed:
    """Weigh the cement of a level against its one entry, or against the sum of several."""
    level, volume = there.fracture.level, told.volume_ml
    if volume is None or not there.cement:
        return Weighed()
    if len(there.cement) == 1:
        given: dict[str, Any] = {"volume_ml": volume}
        if isinstance(volume, Absent):
            given = {"absent": {"volume_ml": volume.reason}}
        return _of_level(level, weigh(there.cement[0], given, names=_NAMES, said=said))
    parts = [entry.values["volume_ml"] for entry in there.cement]
    if isinstance(volume, Absent) or (None not in parts and sum(parts) == volume):
        return Weighed()
    words = " and ".join(said("volume_ml", part) for part in parts)
    return Weighed(conflicts=[f"{level}, Cement mL: the file says {volume}, recorded are {words}."])


def complications_new(row: ProcedureRow, recorded: KnownProcedure) -> list[tuple[str, date, str]]:
    """Return the complications of a row that are not recorded with their kind and day."""
    return [one for one in row.complications if one[:2] not in recorded.complications]


def _weigh_leaks(
    row: ProcedureRow, leaks: tuple[Leak, ...], there: KnownLevel, found: Weighed
) -> None:
    """Leaks are filled once; an answer that differs is for a person."""
    check = there.values["leak_check"]
    if check and sorted(leaks) == sorted(there.leaks):
        return
    now = leaks_said(leaks)
    if check or there.leaks or "leak_check" in there.by_hand:
        before = leaks_said(there.leaks) if check or there.leaks else NOT_RECORDED
        found.conflicts.append(f"Leaks: the file says {now}, recorded is {before}.")
        return
    reasons = found.values.get("absent", there.values["absent"])
    found.values |= {
        "leak_check": "leak" if leaks else "no_leak",
        "leak_checked_on": row.seen_on,
        "absent": {name: why for name, why in reasons.items() if name != "leak_check"},
    }
    found.changes.append(f"Leaks: {NOT_RECORDED} → {now}")


def leaks_said(leaks: Iterable[Leak]) -> str:
    """Return "epidural (disc); anterior", or that none was seen."""
    told = []
    for place, route in leaks:
        where = v.words_for(v.LEAK_PLACE, place) if place else "place not recorded"
        told.append(f"{where} ({v.words_for(v.LEAK_ROUTE, route)})" if route else where)
    return "; ".join(told) or "looked for, none seen"


def _of_level(level: str, found: Weighed) -> Weighed:
    """Put the level in front of all that is told."""
    for told in (found.changes, found.kept, found.conflicts):
        told[:] = [f"{level}, {words}" for words in told]
    return found


def _with_onset(fracture: KnownFracture) -> Recorded:
    """Return a fracture with onset and exactness as one value."""
    on, precision = (fracture.values[name] for name in _ONSET)
    by_hand = fracture.by_hand
    if "onset_precision" in by_hand:
        by_hand |= {"onset_on"}
    values: Mapping[str, Any] = {
        **fracture.values,
        "onset_on": None if on is None else KnownDate(on, precision),
    }
    return Recorded(fracture.model, fracture.pk, fracture.version, values, by_hand)


def said(name: str, value: Any) -> str:
    """Return a value as pages print it."""
    if value in (None, ""):
        return NOT_RECORDED
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{value.normalize():f}"
    if isinstance(value, KnownDate):
        return date_words(value)
    if isinstance(value, date):
        return day_words(value)
    return v.words_for(_VOCABULARIES[name], value) if name in _VOCABULARIES else str(value)
