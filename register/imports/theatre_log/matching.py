"""Whether a line of the theatre log is a procedure of the register, and why not.

A line is found when its numbers lead to one patient, nothing that it says of the patient
speaks against that, and exactly one procedure of that patient is recorded for its day.
Everything else is for a person. Two lines are never found to be the same procedure: the
log may hold another operation of the same patient and day.
"""

from collections import Counter
from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Any, Final, TypeVar

from register.domain.days import day_words
from register.imports.people import KnownPeople, KnownPerson, who_is_meant

# How far off a procedure may lie that a person is offered: chosen by this register, no source.
NEAR_DAYS: Final = 7
Key = TypeVar("Key", bound=Hashable)


class Outcome(StrEnum):
    """What the register holds for a line."""

    FOUND = "found"
    SEVERAL = "several"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class LogLine:
    """What is compared of a line. `who` holds fields of Patient; `id` is a recorded line's."""

    who: Mapping[str, Any]
    performed_on: date
    id: int | None = None


@dataclass(frozen=True, slots=True)
class KnownProcedure:
    """One recorded procedure."""

    id: int
    performed_on: date


@dataclass(frozen=True, slots=True)
class RegisterSide:
    """What the register holds: people, their procedures by patient, and the lines found so far."""

    people: KnownPeople[KnownPerson]
    procedures: Mapping[int, tuple[KnownProcedure, ...]]
    lines_of: Mapping[int, frozenset[int]]  # procedure -> recorded lines that are it


@dataclass(frozen=True, slots=True)
class Match:
    """What was found for one line. `reason` says why it is not found, '' when it is.

    `patient_id` is the patient whom it is about for certain, None without one.
    """

    outcome: Outcome
    reason: str = ""
    procedure_id: int | None = None
    patient_id: int | None = None

    @property
    def words(self) -> str:
        """The outcome in a sentence."""
        if self.outcome is Outcome.FOUND:
            return "Found: a procedure of this patient is recorded for that day."
        return f"Not found in the register. {self.reason}"


def match_all(lines: Mapping[Key, LogLine], register: RegisterSide) -> dict[Key, Match]:
    """Return what was found for each line, all of them seen together."""
    found = {key: match(line, register) for key, line in lines.items()}
    named = Counter(one.procedure_id for one in found.values() if one.procedure_id is not None)
    return {
        key: _unsure(one) if one.procedure_id and named[one.procedure_id] > 1 else one
        for key, one in found.items()
    }


def match(line: LogLine, register: RegisterSide) -> Match:
    """Return what was found for one line, whatever other new lines say."""
    person, against = who_is_meant(line.who, register.people, on=line.performed_on)
    if person is None or person.set_aside:
        return Match(Outcome.NONE, " ".join(against) or "No patient has these numbers.")
    if against:
        return Match(Outcome.NONE, " ".join(against))
    recorded = register.procedures.get(person.pk, ())
    of_day = [one for one in recorded if one.performed_on == line.performed_on]
    if not of_day:
        return Match(Outcome.NONE, _nothing_that_day(line, recorded), patient_id=person.pk)
    if len(of_day) > 1:
        words = f"{len(of_day)} procedures of this patient are recorded for that day."
        return Match(Outcome.SEVERAL, words, patient_id=person.pk)
    one = Match(Outcome.FOUND, procedure_id=of_day[0].id, patient_id=person.pk)
    if register.lines_of.get(of_day[0].id, frozenset()) - {line.id}:
        return _unsure(one)
    return one


def _unsure(one: Match) -> Match:
    words = (
        "Another line of the log names the same patient and day, and only one procedure is "
        "recorded. Two levels may stand in two lines."
    )
    return replace(one, outcome=Outcome.SEVERAL, reason=words, procedure_id=None)


def _nothing_that_day(line: LogLine, recorded: tuple[KnownProcedure, ...]) -> str:
    words = "The patient is known, without a procedure on that day"
    nearest = min(recorded, key=lambda one: _distance(one, line), default=None)
    if nearest is None or _distance(nearest, line) > NEAR_DAYS:
        return f"{words}."
    return f"{words}; one is recorded for {day_words(nearest.performed_on)}."


def _distance(one: KnownProcedure, line: LogLine) -> int:
    return abs((one.performed_on - line.performed_on).days)
