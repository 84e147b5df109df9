"""Follow-up contacts: when each is due, what it is called, what it asks.

Days are counted from an anchor, the day of the procedure (or, for conservative
care, of the decision). A contact has three days: the window opens, the target,
the window closes; both ends belong to the window. The shipped windows are
common practice, no source; a department sets its own in its protocol.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Any, Self


class ContactState(StrEnum):
    """Where a contact that has not taken place stands on a day."""

    UPCOMING = "upcoming"
    DUE = "due"
    OVERDUE = "overdue"
    CLOSED = "closed"

    @property
    def words(self) -> str:
        """The state as pages print it."""
        return {
            "upcoming": "not due yet",
            "due": "due",
            "overdue": "overdue",
            "closed": "window closed",
        }[self.value]


@dataclass(frozen=True, slots=True)
class Timepoint:
    """One contact of the protocol. Days from the anchor; negative before it.

    `asked` is False for a contact that the protocol knows but does not ask for;
    a score taken then still gets its name. `instruments` are codes of INSTRUMENT.
    """

    code: str
    title: str
    target_days: int
    opens_days: int
    closes_days: int
    asked: bool
    instruments: tuple[str, ...]
    source: str

    def __post_init__(self) -> None:
        """Refuse a target outside the window. Raises ValueError."""
        if not self.opens_days <= self.target_days <= self.closes_days:
            raise ValueError(
                f"{self.code}: the target, day {self.target_days}, must lie in the window, "
                f"day {self.opens_days} to {self.closes_days}."
            )

    def as_json(self) -> dict[str, Any]:
        """Return the contact as plain JSON values."""
        return {
            "code": self.code,
            "title": self.title,
            "target_days": self.target_days,
            "opens_days": self.opens_days,
            "closes_days": self.closes_days,
            "asked": self.asked,
            "instruments": list(self.instruments),
            "source": self.source,
        }

    @classmethod
    def from_json(cls, stored: dict[str, Any]) -> Self:
        """Read back what `as_json` wrote."""
        return cls(**stored | {"instruments": tuple(stored["instruments"])})


@dataclass(frozen=True, slots=True)
class Contact:
    """One contact of one patient, with its three days."""

    timepoint: Timepoint
    opens_on: date
    target_on: date
    closes_on: date

    def state(self, today: date) -> ContactState:
        """Return where the contact stands, if it has not taken place: the target day is due."""
        if today < self.opens_on:
            return ContactState.UPCOMING
        if today <= self.target_on:
            return ContactState.DUE
        return ContactState.OVERDUE if today <= self.closes_on else ContactState.CLOSED


def contact(anchor: date, timepoint: Timepoint) -> Contact:
    """Return the days of one contact for an anchor day."""
    return Contact(
        timepoint=timepoint,
        opens_on=anchor + timedelta(days=timepoint.opens_days),
        target_on=anchor + timedelta(days=timepoint.target_days),
        closes_on=anchor + timedelta(days=timepoint.closes_days),
    )


def schedule(anchor: date, timepoints: Iterable[Timepoint]) -> tuple[Contact, ...]:
    """Return the contacts that the protocol asks for, in order of their target day."""
    asked = sorted((t for t in timepoints if t.asked), key=lambda t: t.target_days)
    return tuple(contact(anchor, timepoint) for timepoint in asked)


def name_contact(anchor: date, seen_on: date, timepoints: Iterable[Timepoint]) -> Timepoint | None:
    """Return the contact in whose window a day falls; None between windows.

    Where windows touch or overlap the nearest target wins, the earlier one on a
    tie. Contacts that are not asked for are named too.
    """
    day = (seen_on - anchor).days
    holding = [t for t in timepoints if t.opens_days <= day <= t.closes_days]
    return min(holding, key=lambda t: (abs(day - t.target_days), t.target_days), default=None)
