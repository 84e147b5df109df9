"""Which recorded fracture a row treats, when a person has to say, and what the row says of it.

A fracture is the recorded one when the level is the same and either its referral is of the
same day, or its onset is, known to the day or the week on both sides: two fractures that
began in 2024 are not one for that. One that began, or was referred, after the procedure is
another one.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, Final

from register.domain import vocabulary as v
from register.domain.clock import onset_range
from register.domain.days import day_words, known_words
from register.imports.procedures.rows import ProcedureRow
from register.imports.referrals.known import KnownFracture

_EXACT: Final = ("day", "week")


def fracture_meant(
    row: ProcedureRow, level: str, fractures: Iterable[KnownFracture]
) -> tuple[KnownFracture | None, list[str]]:
    """Return the recorded fracture that a row treats, or why a person has to say.

    (None, []) when the row brings it.
    """
    unclear = []
    for there in fractures:
        if there.level != level:
            continue
        later = _is_later(there, row.performed_on)
        same_onset = row.onset_on is not None and there.onset_on == row.onset_on
        by_onset = same_onset and are_exact(row.fracture, there.values)
        if not later and (by_onset or same_day(there.referred_on, row.referred_on)):
            if there.state in ("waiting", "treated"):
                return there, []
            state = v.words_for(v.FRACTURE_STATE, there.state)
            unclear.append(
                f"{level} is recorded with this onset or referral ({state}). Record this "
                "procedure there, from a theatre list."
            )
        elif same_onset and later:
            unclear.append(
                f"{level} is recorded with this onset and a referral of "
                f"{day_words(there.referred_on)}, after the procedure. Correct the wrong day."
            )
        elif same_onset or (there.waits and not later):
            unclear.append(_unclear(there))
    return None, unclear


def same_day(one: date | None, other: date | None) -> bool:
    """Whether both days are known and the same."""
    return one is not None and one == other


def are_exact(*fractures: Mapping[str, Any]) -> bool:
    """Whether the onset of each is known to the day or the week."""
    return all(values.get("onset_precision") in _EXACT for values in fractures)


def _is_later(fracture: KnownFracture, day: date) -> bool:
    """Whether a fracture began, for certain, or was referred after a day."""
    began = fracture.onset_on
    if began is not None:
        began, _ = onset_range(began, fracture.values["onset_precision"])
    return any(one is not None and one > day for one in (began, fracture.referred_on))


def _unclear(there: KnownFracture) -> str:
    state = "waiting" if there.waits else f"recorded ({v.words_for(v.FRACTURE_STATE, there.state)})"
    onset = known_words(there.onset_on, there.values["onset_precision"])
    return (
        f"{there.level} is {state}, with onset {onset} and referral "
        f"{day_words(there.referred_on)}. If it is the one that was treated, give its onset to "
        "the day, or its referral date, in the row as on the record; if not, close or correct "
        "it first."
    )
