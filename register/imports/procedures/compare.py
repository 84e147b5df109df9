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

_NAMES: Final = {c.field: c.name for c in COLUMNS} | {
    "leak_check": "Leaks",
    "leak_checked_on": "Leaks looked for on",
}
_VOCABULARIES: Final[dict[str, v.Words]] = {
    "cause": v.FRACTURE_CAUSE,
    "anaesthesia": v.ANAESTHESIA,
    "level_check": v.LEVEL_CHECK,
    "complication_check": v.COMPLICATION_CHECK,
    "grade": v.COMPLICATION_GRADE,
    "side": v.SIDE,
    "approach": v.APPROACH,
    "leak_checked_on": v.LEAK_SEEN_ON,
    "seen_on": v.LEAK_SEEN_ON,
    "consequence": v.LEAK_CONSEQUENCE,
}
# A complication as a row has it: kind, day, grade or ''.
Trouble = tuple[str, date, str]
_ONSET: Final = ("onset_on", "onset_precision")


def death_weighed(row: ProcedureRow, patient: KnownPatient) -> Weighed:
    """Weigh the day of death; nobody is treated or seen after it."""
    given = {"date_of_death": row.died_on} if row.died_on else {}
    found = weigh(patient, given, names=_NAMES, said=said)
    known = {"A contact": patient.seen_on} | {
        "A procedure": max((done.performed_on for done in patient.procedures), default=None)
    }
    found.conflicts += [
        f"Date of death: the file says {day_words(row.died_on)}. {what} of {day_words(day)} is "
        "recorded. Correct one of the days."
        for what, day in known.items()
        if found.values and row.died_on and day is not None and day > row.died_on
    ]
    return found


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
    given, leaks = dict(told.given), told.leaks
    if leaks is not None and _are_recorded(leaks, there):
        given, leaks = given | {"leak_checked_on": row.seen_on}, None
    found = weigh(there, given, names=_NAMES, said=said)
    if leaks is not None:
        _fill_leaks(row, leaks, there, found)
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


def complications_paired(
    row: ProcedureRow, recorded: KnownProcedure
) -> list[tuple[Trouble, Recorded | None]]:
    """Return each complication of a row with a recorded one of its kind and day, if there is one.

    A recorded one stands for one of the row; one of the same grade is taken first.
    """
    pairs: list[tuple[Trouble, Recorded | None]] = []
    left = list(recorded.complications)
    for kind, day, grade in row.complications:
        alike = [
            one for one in left if (one.values["kind"], one.values["occurred_on"]) == (kind, day)
        ]
        there = min(alike, key=lambda one: one.values["grade"] != grade, default=None)
        pairs.append(((kind, day, grade), there))
        left = [one for one in left if one is not there]
    return pairs


def grade_weighed(there: Recorded, grade: str) -> Weighed:
    """Weigh the grade of a complication; '' is not told."""
    kind, day = v.words_for(v.COMPLICATION, there.values["kind"]), there.values["occurred_on"]
    names = {"grade": f"Complications, grade of {kind} of {day_words(day)}"}
    return weigh(there, {"grade": grade} if grade else {}, names=names, said=said)


def leaks_weighed(
    row: ProcedureRow, told: LevelTold, there: KnownLevel
) -> list[tuple[Recorded, Weighed]]:
    """Weigh images and consequence of recorded leaks, where the row has the same ones."""
    if not told.leaks or not _are_recorded(told.leaks, there):
        return []
    given = {"seen_on": row.seen_on}
    found: list[tuple[Recorded, Weighed]] = []
    if row.consequence:
        given["consequence"] = row.consequence
    if row.consequence and not there.leaks:
        words = f"Leak consequence: “{said('consequence', row.consequence)}” is not taken over. "
        kept = Weighed(kept=[f"{words}Add the leak on the record."])
        found.append((there, _of_level(there.fracture.level, kept)))
    for leak in there.leaks:
        where = leaks_said([_place_of(leak)])
        names = {"seen_on": f"Leak {where}, seen on", "consequence": f"Leak {where}, consequence"}
        weighed = weigh(leak, given, names=names, said=said)
        found.append((leak, _of_level(there.fracture.level, weighed)))
    return found


def _are_recorded(leaks: tuple[Leak, ...], there: KnownLevel) -> bool:
    """Whether recorded is exactly what a row says of the leaks of a level."""
    check = "leak" if leaks else "no_leak"
    return there.values["leak_check"] == check and sorted(leaks) == sorted(_recorded_leaks(there))


def _recorded_leaks(there: KnownLevel) -> list[Leak]:
    """Return the recorded leaks; one of which the check alone tells has no place and route."""
    if there.values["leak_check"] == "leak" and not there.leaks:
        return [("", "")]
    return [_place_of(leak) for leak in there.leaks]


def _place_of(leak: Recorded) -> Leak:
    return leak.values["place"], leak.values["route"]


def _fill_leaks(
    row: ProcedureRow, leaks: tuple[Leak, ...], there: KnownLevel, found: Weighed
) -> None:
    """Leaks are filled once; an answer that differs is for a person."""
    check, now = there.values["leak_check"], leaks_said(leaks)
    if check or there.leaks or "leak_check" in there.by_hand:
        before = leaks_said(_recorded_leaks(there)) if check or there.leaks else NOT_RECORDED
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
