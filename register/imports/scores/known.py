"""What the register holds of the follow-up of the people in a file."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date

from register.imports.people import KnownPerson
from register.imports.weighing import Recorded


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownContact(Recorded):
    """A contact that is due or was held; `held_on` is None while it is due."""

    held_on: date | None = None
    scores: Mapping[str, Recorded] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Slot:
    """A contact of one treatment. `contact` is None for one that the protocol knows and does not
    ask for: it is made when somebody was seen then."""

    timepoint: str
    title: str
    opens_on: date
    target_on: date
    closes_on: date
    contact: KnownContact | None = None

    def holds(self, day: date) -> bool:
        """Whether a day lies in the window; both ends belong to it."""
        return self.opens_on <= day <= self.closes_on

    def was_held(self, day: date) -> bool:
        """Whether it is recorded that the contact took place on a day."""
        return self.contact is not None and self.contact.held_on == day


@dataclass(frozen=True, slots=True)
class KnownTreatment:
    """A procedure, or a decision for conservative care, with the contacts that follow it.

    `words` name it: "balloon tamping, L1, of 05 Mar 2027".
    """

    procedure_id: int | None
    fracture_id: int | None
    anchor_on: date
    words: str
    levels: frozenset[str]
    slots: tuple[Slot, ...]

    @property
    def anchor_words(self) -> str:
        """What its contacts are counted from."""
        return "the procedure" if self.procedure_id else "the decision"


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownFollowed(KnownPerson):
    """A patient of the site with all that is followed up.

    `referral` holds, by instrument, what the newest referral said and when, in words;
    it counts as the value before for treatments from `referred_on` on.
    """

    treatments: tuple[KnownTreatment, ...] = ()
    referral: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    referred_on: date | None = None

    @property
    def slots(self) -> Iterator[Slot]:
        """All contacts, of whatever treatment."""
        return (slot for treatment in self.treatments for slot in treatment.slots)
